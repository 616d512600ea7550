"""What a text says, however its lines are broken."""


def flowing(text: str) -> str:
    """All of it on one line, single spaces between words."""
    return " ".join(text.split())
