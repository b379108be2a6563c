"""What every command that makes sound says first."""

CAUTION = (
    "Sound in the ears can harm hearing, and harm done stays. Start with the volume down and raise it only as far as you"
    " need; both ears at a lower level are safer than one at a higher. The longer the session, the lower the level should"
    " be. Take breaks. Ringing or dull hearing afterwards means that it was too loud. This tool does not know the level at"
    " your ear: local rules and a hearing professional come before anything said here."
)
