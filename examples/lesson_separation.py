"""A lesson that asks first. Lobe separation: what is held decides. Invented engine."""

from pullcast.show.lessons.terminal import take

KEY = "separation"

if __name__ == "__main__":
    raise SystemExit(take(KEY))
