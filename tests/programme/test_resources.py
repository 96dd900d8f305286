"""The shipped folders: inside the package where it is installed, else beside it."""

from pipeline.programme import resources


def test_in_a_checkout_the_folders_lie_beside_the_package():
    assert (resources.shipped("config") / "surfaces.toml").is_file()
    assert (resources.shipped("sample_data") / "programme.toml").is_file()


def test_in_a_wheel_they_lie_inside_it_and_are_taken_from_there(tmp_path, monkeypatch):
    package = tmp_path / "site-packages" / "pipeline"
    (package / "_data" / "config").mkdir(parents=True)
    monkeypatch.setattr(resources, "files", lambda _: package)
    assert resources.shipped("config") == package / "_data" / "config"
    assert resources.shipped("sample_data") == tmp_path / "site-packages" / "sample_data"
