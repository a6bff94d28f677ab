"""A lesson that asks first. Header primary size. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "primaries"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
