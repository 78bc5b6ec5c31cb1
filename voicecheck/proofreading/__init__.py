"""What words sound like, and what is wrong in a checklist before anybody flies with it."""
