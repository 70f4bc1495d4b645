"""Adds models/ to the wheel as data; everything else stands in pyproject.toml."""

from setuptools import find_packages, setup

setup(packages=[*find_packages(include=["tillercount", "tillercount.*"]), "tillercount._models"])
