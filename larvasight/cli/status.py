"""How commands end."""

SOME_UNUSABLE = 1
WRONG_CALL = 2
