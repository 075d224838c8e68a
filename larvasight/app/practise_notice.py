"""What Practise says instead of a comb: it is being drawn, cannot be, or all is done."""

from collections.abc import Callable

from larvasight.app.homework_cards import standing_words
from larvasight.app.parts import Notice, button
from larvasight.desk.homework import Standing
from larvasight.errors import LarvasightError


class PractiseNotice(Notice):
    """The notice of Practise; ``stop`` goes back to its first screen."""

    def __init__(self, stop: Callable[[], object]) -> None:
        super().__init__()
        self._stop = stop

    def drawing(self) -> None:
        """Say that a comb is being drawn."""
        self._wait("Drawing a fresh comb ...", "This takes a second or two.")

    def drawing_again(self) -> None:
        """Say that a comb that was broken off is being drawn."""
        self._wait("Drawing your comb again ...", "Your marks are on it.")

    def fetching(self) -> None:
        """Say that the next comb of a lesson is being fetched."""
        self._wait("Homework", "The next comb is coming ...")

    def failed(self, title: str, sentence: str) -> None:
        """Say that something did not work, and that the way back is open."""
        self.say(title, sentence, button("Back", self._stop, "main"))

    def no_lesson(self, error: LarvasightError) -> None:
        """Say why there is no next comb of a lesson."""
        self.failed("Homework", str(error))

    def not_drawn(self, sentence: str, again: Callable[[], object]) -> None:
        """Say that a comb could not be drawn."""
        self.say("The comb could not be drawn", sentence, button("Try again", again, "main"))

    def lesson_done(self, stands: Standing, save: Callable[[], object]) -> None:
        """Say that all of a lesson is done, and offer its result to be saved."""
        save_button = button("Save the result ...", save, "main")
        back = button("Back", self._stop)
        self.say(stands.title, standing_words(stands), save_button, back)
        save_button.setFocus()

    def _wait(self, title: str, words: str) -> None:
        self.say(title, words, button("Stop here", self._stop))
