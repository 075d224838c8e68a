"""What the store keeps of photos: sheets, marks by hand, where cells lie, ages, practice sets."""

from collections.abc import Collection
from contextlib import AbstractContextManager
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection

from larvasight.records import hand_marks, own_combs, photos
from larvasight.records.types import HandLattice, HandMark, KnownAge, Photo, PracticePhoto


class PhotoStore:
    """The part of ``Store`` that is about photos."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def _writing(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def add_photo(self, sha256: str, *, name: str, suffix: str, now: datetime) -> Photo:
        """Add a photo; one that is there already stays as it was and is returned."""
        with self._writing() as connection:
            return photos.add(connection, sha256, name, suffix, now)

    def photos(self) -> list[Photo]:
        """Return all photos, the newest first."""
        with self._reading() as connection:
            return photos.every(connection)

    def photo_sheet(self, sha256: str) -> str | None:
        """Return the sheet of a photo as JSON text, None when there is none yet."""
        with self._reading() as connection:
            return photos.sheet_of(connection, sha256)

    def set_photo_sheet(self, sha256: str, sheet: str | None) -> None:
        """Store the sheet of a photo as JSON text."""
        with self._writing() as connection:
            photos.put_sheet(connection, sha256, sheet)

    def remove_photo(self, sha256: str) -> None:
        """Remove a photo, its sheet and its marks by hand.

        Rounds that showed it stay, and so does its file.
        """
        with self._writing() as connection:
            photos.remove(connection, sha256)

    def hand_marks(self, sha256: str) -> list[HandMark]:
        """Return what was marked by hand on the cells of a photo, by row, column and time."""
        with self._reading() as connection:
            return hand_marks.of_photo(connection, sha256)

    def put_hand_mark(
        self, sha256: str, mark: HandMark, *, instead_of: Collection[UUID] = ()
    ) -> None:
        """Store a mark by hand instead of the marks with these ids.

        Raises
        ------
        ValueError
            If the photo is unknown, or a line or an outline has too few or too many points.
        """
        with self._writing() as connection:
            hand_marks.remove(connection, sha256, [mark.id, *instead_of])
            hand_marks.put(connection, sha256, mark)

    def remove_hand_marks(self, sha256: str, ids: Collection[UUID]) -> None:
        """Take back what was marked by hand; the measured values stay."""
        with self._writing() as connection:
            hand_marks.remove(connection, sha256, ids)

    def hand_lattice(self, sha256: str) -> HandLattice | None:
        """Return where a person laid the cells of a photo, None where nobody did."""
        with self._reading() as connection:
            return own_combs.lattice_of(connection, sha256)

    def put_cells(self, sha256: str, lattice: HandLattice | None, sheet: str) -> None:
        """Store where a person laid a photo's cells, and the sheet measured there, or neither.

        None leaves it to what is found.
        """
        with self._writing() as connection:
            own_combs.put_lattice(connection, sha256, lattice)
            photos.put_sheet(connection, sha256, sheet)

    def known_age(self, sha256: str) -> KnownAge | None:
        """Return what is known of the age of a photo's comb, None where nothing is."""
        with self._reading() as connection:
            return own_combs.age_of(connection, sha256)

    def put_known_age(self, sha256: str, age: KnownAge | None, *, now: datetime) -> None:
        """Store what is known of the age of a photo's comb; None takes it away."""
        with self._writing() as connection:
            own_combs.put_age(connection, sha256, age, now)

    def practice_photos(self) -> list[PracticePhoto]:
        """Return the photos that are practised on, the newest set first."""
        with self._reading() as connection:
            return own_combs.practice_photos(connection)

    def put_practice_photo(self, made: PracticePhoto) -> None:
        """Let a photo be practised on."""
        with self._writing() as connection:
            own_combs.put_practice_photo(connection, made)

    def remove_practice_photo(self, sha256: str) -> None:
        """Let a photo no longer be practised on; rounds that showed it stay."""
        with self._writing() as connection:
            own_combs.remove_practice_photo(connection, sha256)
