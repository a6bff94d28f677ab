"""A lesson that asks first. What volumetric efficiency is. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "filling"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
