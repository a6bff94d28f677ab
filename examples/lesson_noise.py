"""A lesson that asks first. A-B-A and noise. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "noise"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
