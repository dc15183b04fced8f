"""A recipe that is written into a material file is the one that is read from it."""

from __future__ import annotations

import tomllib

import tomlkit
from hypothesis import example, given

from kerfwright.output.material_file import changed_material_text
from kerfwright.recipe_book import keys_of
from kerfwright.shop.files import material_of_table
from kerfwright.shop.material import Recipe
from tested_recipes import a_cut, any_recipe

HEAD = '# Bought in spring.\nname = "poplar"\nthickness_mm = 40  # measured\n'


PHOTO = {"process": "photo", "kerf_mm": None, "interval_mm": 0.1}
BENT = a_cut(**PHOTO, gamma=1.7)
MEASURED = a_cut(**PHOTO, grey_curve=[[0.1, 0.0], [0.4, 1.0]])


@example(present=MEASURED, wanted=BENT)
@example(present=BENT, wanted=MEASURED)
@given(present=any_recipe(), wanted=any_recipe())
def test_whatever_stood_there_before_the_wanted_recipe_is_read(
    present: Recipe, wanted: Recipe
) -> None:
    same = wanted.model_copy(update={"machine": present.machine})
    table = {"machine": present.machine, "process": present.process} | {
        key: value for key, value in keys_of(present).items() if value is not None
    }
    text = HEAD + "\n" + tomlkit.dumps({"recipes": [table]})
    before = material_of_table(tomllib.loads(text), "poplar.toml")
    assert before.recipes == (present,)
    changed = changed_material_text(text, same.machine, same.process, keys_of(same))
    assert changed.startswith(HEAD)
    after = material_of_table(tomllib.loads(changed), "poplar.toml")
    assert after.recipe(same.machine, same.process) == same
    assert len(after.recipes) == (1 if same.process == present.process else 2)
