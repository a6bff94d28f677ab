"""A lesson that asks first. Why the peak misleads. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "peaks"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
