"""A lesson that asks first. A mystery loss. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "mystery"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
