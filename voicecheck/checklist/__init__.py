"""What is to be checked: the data model, the loader, and the callouts it gives rise to."""
