"""The explanation's one sentence is whole on its figure."""

from dataclasses import replace
from math import nan

from synthetic import make_case, make_outcome

from tipmech.outcome import Label
from tipmech.show.explain import explanation_figure, note_words, sentence
from tipmech.study.flip import Explanation, Found, Kind, Run, Search

WORDS = "tip in the true lumen, past the tear, wire behind it under the flap; decided by: the front gave way at 32.5 mN"


def test_a_long_sentence_is_wrapped_within_the_figure_and_clear_of_the_legend():
    other = Label.TRUE_LUMEN_CURLED_OR_BUCKLED
    searches = [Search(kind, up, Found.NO_FLIP, nan, nan, None, ()) for kind in Kind for up in (False, True)]
    at = next(k for k, s in enumerate(searches) if s.kind is Kind.SUPPORT and s.up)
    searches[at] = Search(Kind.SUPPORT, True, Found.FLIPPED, 1.37, 1.38, other, (Run(1.38, other),))
    told = Explanation(make_case(), replace(make_outcome(), label=int(Label.FALSE_LUMEN_NEITHER)), tuple(searches))
    figure = explanation_figure(told, WORDS)
    title, text = figure._suptitle, sentence(told)
    assert " ".join(title.get_text().split()) == f"{text[0].upper()}{text[1:]}."
    figure.draw_without_rendering()
    said = next(t for t in figure.texts if t.get_text().startswith("As it was"))
    assert WORDS in " ".join(said.get_text().split())
    under = said.get_window_extent()
    box, legend = title.get_window_extent(), figure.legends[0].get_window_extent()
    assert box.x0 > 0.0 and box.x1 < figure.bbox.width and box.y1 < figure.bbox.height
    assert under.y1 <= box.y0 and legend.y1 <= under.y0 and under.x1 < figure.bbox.width
    assert legend.y0 >= figure.axes[0].get_window_extent().y1


def test_what_was_not_solved_is_told_from_what_was_not_run():
    base = Label.FALSE_LUMEN_NEITHER
    searches = [Search(kind, up, Found.NO_FLIP, nan, nan, None, ()) for kind in Kind for up in (False, True)]
    at = next(k for k, s in enumerate(searches) if s.kind is Kind.FRICTION and s.up)
    runs = (Run(1.26, base), Run(1.59, Label.NOT_SOLVED), Run(2.0, base), Run(2.52, None, allowed=False))
    solved = Explanation(make_case(), replace(make_outcome(), label=int(base)), tuple(searches))
    searches[at] = Search(Kind.FRICTION, True, Found.NO_FLIP, 2.0, nan, None, runs)
    told = Explanation(make_case(), replace(make_outcome(), label=int(base)), tuple(searches))
    figure = explanation_figure(told, WORDS)
    hatched = [p for p in figure.axes[0].patches if p.get_hatch() == "////"]
    assert [p.get_facecolor()[:3] for p in hatched] == [(1.0, 1.0, 1.0)] and hatched[0].get_width() > 0.0
    keys = {
        t.get_text(): p for t, p in zip(figure.legends[0].get_texts(), figure.legends[0].get_patches(), strict=True)
    }
    assert keys["not solved"].get_hatch() == "////" and keys["not solved"].get_facecolor()[:3] == (1.0, 1.0, 1.0)
    assert "4 insertions, 1 not solved (white, hatched grey). White without hatching: not run" in note_words(told)
    assert note_words(solved).startswith("1 insertions, all solved. White without hatching: not run")
