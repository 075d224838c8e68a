import pytest

from larvasight.errors import AssetMissingError
from larvasight.render import assets


@pytest.fixture
def package(tmp_path, monkeypatch):
    folder = tmp_path / "larvasight"
    folder.mkdir()
    monkeypatch.setattr(assets, "_PACKAGE", folder)
    return folder


def make_folder(folder):
    folder.mkdir(parents=True)
    return folder


def test_assets_dir_finds_an_existing_folder():
    assert assets.assets_dir().is_dir()


def test_assets_dir_of_a_checkout_comes_before_the_installed_copy(package):
    (package.parent / "pyproject.toml").touch()
    make_folder(package / "_assets" / "synthetic")
    drawn = make_folder(package.parent / "assets" / "synthetic")
    assert assets.assets_dir() == drawn


def test_assets_dir_of_an_installed_program_ignores_a_foreign_neighbour(package):
    make_folder(package.parent / "assets" / "synthetic")
    installed = make_folder(package / "_assets" / "synthetic")
    assert assets.assets_dir() == installed


def test_assets_dir_missing_is_one_sentence(package):
    with pytest.raises(AssetMissingError, match=r"^[A-Z][^\n]*\.$"):
        assets.assets_dir()
