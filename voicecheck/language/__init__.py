"""The words of one language, read from ``grammars/``: a second language is data."""

from voicecheck.language.language import Language, load_language

__all__ = ["Language", "load_language"]
