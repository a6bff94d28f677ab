"""A lesson that asks first. Intake closing and runner length: four corners. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "corners"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
