"""A lesson that asks first. Correction factors. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "correction"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
