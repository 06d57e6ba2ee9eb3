"""The explanation's one sentence is whole on its figure."""

from dataclasses import replace
from math import nan

from synthetic import make_case, make_outcome

from tipmech.outcome import Label
from tipmech.show.explain import explanation_figure, sentence
from tipmech.study.flip import Explanation, Found, Kind, Run, Search


def test_a_long_sentence_is_wrapped_within_the_figure_and_clear_of_the_legend():
    other = Label.TRUE_LUMEN_CURLED_OR_BUCKLED
    searches = [Search(kind, up, Found.NO_FLIP, nan, nan, None, ()) for kind in Kind for up in (False, True)]
    at = next(k for k, s in enumerate(searches) if s.kind is Kind.SUPPORT and s.up)
    searches[at] = Search(Kind.SUPPORT, True, Found.FLIPPED, 1.37, 1.38, other, (Run(1.38, other),))
    told = Explanation(make_case(), replace(make_outcome(), label=int(Label.FALSE_LUMEN_NEITHER)), tuple(searches))
    figure = explanation_figure(told)
    title, text = figure._suptitle, sentence(told)
    assert " ".join(title.get_text().split()) == f"{text[0].upper()}{text[1:]}."
    figure.draw_without_rendering()
    box, legend = title.get_window_extent(), figure.legends[0].get_window_extent()
    assert box.x0 > 0.0 and box.x1 < figure.bbox.width and box.y1 < figure.bbox.height
    assert legend.y1 <= box.y0 and legend.y0 >= figure.axes[0].get_window_extent().y1
