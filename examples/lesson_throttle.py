"""A lesson that asks first. Throttle and plenum. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "throttle"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
