"""A lesson that asks first. Reading a lift curve and a flow sheet. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "reading"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
