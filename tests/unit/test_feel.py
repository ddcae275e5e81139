"""The feel key against the flow diagram of Thien 1979 (J. Agron. Educ. 8:54-55), as reprinted."""

from __future__ import annotations

import pytest

from soakbook.errors import InputError
from soakbook.physics.feel import Question, feel_class, first_question, follow, questions
from soakbook.physics.soil import soil_from_feel, soil_from_texture
from soakbook.physics.texture import TEXTURE_CLASSES

THIEN = {
    ("no_ball", "never"): "sand",
    ("ball", "no_ribbon"): "loamy_sand",
    ("ball", "short", "gritty"): "sandy_loam",
    ("ball", "short", "smooth"): "silt_loam",
    ("ball", "short", "neither"): "loam",
    ("ball", "medium", "gritty"): "sandy_clay_loam",
    ("ball", "medium", "smooth"): "silty_clay_loam",
    ("ball", "medium", "neither"): "clay_loam",
    ("ball", "long", "gritty"): "sandy_clay",
    ("ball", "long", "smooth"): "silty_clay",
    ("ball", "long", "neither"): "clay",
}


@pytest.mark.parametrize(
    ("answers", "class_id"), THIEN.items(), ids=lambda v: "-".join(v) if isinstance(v, tuple) else v
)
def test_each_branch(answers: tuple[str, ...], class_id: str) -> None:
    assert follow(answers) == feel_class(answers) == class_id


def test_every_way_out_is_a_class_and_silt_is_not_reachable() -> None:
    ids = {question.id for question in questions()}
    ends = {answer.leads_to for question in questions() for answer in question.answers} - ids
    assert ends == set(TEXTURE_CLASSES) - {"silt"}


def test_wetting_again_leads_back() -> None:
    assert follow(["no_ball", "too_dry"]) == first_question()
    assert feel_class(["no_ball", "too_wet", "no_ball", "too_dry", "ball", "long", "neither"]) == "clay"


def test_no_answers_is_the_first_question() -> None:
    question = follow([])
    assert isinstance(question, Question)
    assert question == questions()[0]


def test_unfinished_answers_show_the_next_question() -> None:
    with pytest.raises(InputError) as caught:
        feel_class(["ball"])
    assert caught.value.code == "feel.unfinished"
    assert "ribbon" in caught.value.hint
    assert "short" in caught.value.hint


def test_unknown_answer_lists_the_choices() -> None:
    with pytest.raises(InputError, match=r"ball, no_ball \(got 'maybe'\)"):
        follow(["maybe"])


def test_answers_beyond_the_end_are_refused() -> None:
    with pytest.raises(InputError, match="already lead to loamy_sand") as caught:
        follow(["ball", "no_ribbon", "gritty"])
    assert "gritty" in caught.value.hint


def test_felt_soil_is_the_class_with_a_wider_spread() -> None:
    felt, known = soil_from_feel(["ball", "long", "smooth"]), soil_from_texture("silty_clay")
    assert (felt.theta_wp, felt.theta_fc, felt.theta_sat) == (known.theta_wp, known.theta_fc, known.theta_sat)
    assert felt.theta_fc_sd > known.theta_fc_sd
    assert felt.route == "feel"
