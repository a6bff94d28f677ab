"""A lesson that asks first. Advance: turning the cams. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "advance"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
