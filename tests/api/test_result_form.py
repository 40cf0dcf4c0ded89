"""The form that tells how a mould came out."""

from __future__ import annotations

import pytest

from api.asked import Form
from api.result_form import MOST_ROWS, Row, body_of, rows_of
from service.errors import BadInput
from service.records.facts import Failing, FaultKind, ResultBody

RUN_OUT = Failing(fault=FaultKind.RUN_OUT, zone="hollow base", coat=3)


def posted(*rows: Row, verdict: str = "failed", **more: str) -> Form:
    fields = {"verdict": verdict, "rows": str(len(rows)), **more}
    for i, row in enumerate(rows):
        fields |= {f"fault{i}": row.fault, f"fault{i}_zone": row.zone, f"fault{i}_coat": row.coat}
        fields |= {f"fault{i}_on": "yes"} if row.on else {}
    return Form(fields)


class TestRows:
    def test_every_fault_once_and_none_ticked(self) -> None:
        rows = rows_of(Form({}))
        assert [row.fault for row in rows] == list(FaultKind)
        assert not any(row.on for row in rows)

    def test_of_one_that_is_recorded_what_it_says_and_each_once_more(self) -> None:
        """So that a second place of the same fault can be added."""
        rows = rows_of(Form({}), (RUN_OUT,))
        assert rows[0] == Row(FaultKind.RUN_OUT, True, "hollow base", "3")
        assert [row.fault for row in rows[1:]] == list(FaultKind)

    def test_of_a_refused_form_what_was_filled_in(self) -> None:
        rows = [Row(FaultKind.FIN, True, "outside", "2"), Row(FaultKind.OTHER)]
        assert rows_of(posted(*rows), (RUN_OUT,)) == rows

    @pytest.mark.parametrize("count", ["-1", "x", "", "999999999"])
    def test_a_made_up_count_of_rows(self, count: str) -> None:
        filled = Form({f"fault{i}": "fin" for i in range(100)} | {"rows": count})
        assert len(rows_of(filled)) <= MOST_ROWS

    def test_a_fault_there_is_not(self) -> None:
        with pytest.raises(BadInput, match="not one of the faults"):
            rows_of(Form({"rows": "1", "fault0": "sabotage"}))


class TestBody:
    def test_sound(self) -> None:
        assert body_of(Form({"verdict": "sound", "text": "clean"})) == ResultBody(
            verdict="sound", text="clean"
        )

    def test_failed_with_what_is_ticked(self) -> None:
        form = posted(
            Row(FaultKind.RUN_OUT, True, "hollow base", "3"),
            Row(FaultKind.CRACK),
            Row(FaultKind.FIN, True),
        )
        assert body_of(form) == ResultBody(verdict="failed", failings=(RUN_OUT, Failing(fault=FaultKind.FIN)))

    @pytest.mark.parametrize(
        ("form", "code"),
        [
            (posted(Row(FaultKind.FIN)), "result_unclear"),
            (posted(Row(FaultKind.FIN, True), verdict="sound"), "result_unclear"),
            (posted(verdict=""), "not_known"),
            (posted(Row(FaultKind.FIN, True), verdict="good"), "not_known"),
            (posted(Row(FaultKind.FIN, True, coat="x")), "not_a_number"),
            (posted(Row(FaultKind.FIN, True, coat="41")), "value_wrong"),
            (posted(Row(FaultKind.FIN, True), text="x" * 2001), "value_wrong"),
            (posted(*[Row(FaultKind.FIN, True)] * 13), "value_wrong"),
        ],
    )
    def test_what_does_not_fit_is_told_in_words(self, form: Form, code: str) -> None:
        with pytest.raises(BadInput) as told:
            body_of(form)
        assert told.value.code == code

    def test_nothing_ticked_says_what_to_do(self) -> None:
        with pytest.raises(BadInput) as told:
            body_of(posted(Row(FaultKind.FIN)))
        assert "“other” if nothing fits" in told.value.todo
