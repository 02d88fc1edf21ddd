"""Parts of the page that are the same for every layout."""

from __future__ import annotations

MOVE = """\
<div class="tools script">
<label class="find">Find on the plan <input type="search" id="find-name" list="all-names" autocomplete="off" \
spellcheck="false"></label><datalist id="all-names"></datalist>
<div class="zoom" role="group" aria-label="Size of the plan"><button type="button" id="smaller">Smaller</button>
<button type="button" id="fit">Fit</button> <button type="button" id="larger">Larger</button></div>
</div>"""

TOOLS = """\
<div class="tools script">
<fieldset class="taps"><legend>A tap on the plan</legend>
<label><input type="radio" name="tap" value="throw" checked> throws the turnout</label>
<label><input type="radio" name="tap" value="0"> puts the red probe there</label>
<label><input type="radio" name="tap" value="1"> puts the black probe there</label></fieldset>
<fieldset class="taps" id="shade"><legend>Rails show</legend>
<label><input type="radio" name="shade" value="poles" checked> poles</label>
<label><input type="radio" name="shade" value="volts"> volts lost at the worst place</label></fieldset>
<label><input type="checkbox" id="show-names"> names of joints and feeds</label>
</div>"""

SHEET = """\
<div class="sheet" id="sheet" tabindex="0" role="region" \
aria-label="The plan: arrow keys move it, plus and minus change its size, 0 shows all"><!-- plan --></div>"""

KINDS = (
    ("pole-A", "pole A"),
    ("pole-B", "pole B"),
    ("pole-none", "no pole: dead"),
    ("pole-both", "two poles: a short"),
    ("pole-unit", "a frog unit decides"),
)
KEY = '<li><svg viewBox="0 0 48 10" aria-hidden="true"><path class="rail {}" d="M1 5H47"/></svg> {}</li>'
LEGEND = f"""\
<ul class="legend" id="legend" aria-label="Rails">
{"".join(KEY.format(*kind) for kind in KINDS)}
</ul>
<ul class="legend heat" id="heat-legend" aria-label="Volts lost" hidden></ul>"""

WALK = """\
<section class="card script" aria-labelledby="walk-title"><h3 id="walk-title">Piece by piece</h3>
<p class="hint">The plan as words: each piece with its poles and its neighbours, to walk along the track.</p>
<label class="find">Piece <input id="walk-name" list="all-names" autocomplete="off" spellcheck="false"></label>
<div id="walk"></div></section>"""

METER = """\
<section class="card script" aria-labelledby="meter-head"><h3 id="meter-head">Meter</h3>
<div class="probes"><label>Red probe <input id="probe-0" list="rails" autocomplete="off" spellcheck="false"></label>
<label>Black probe <input id="probe-1" list="rails" autocomplete="off" spellcheck="false"></label></div>
<datalist id="rails"></datalist>
<dl class="reading" aria-live="polite"><dt>Supply unplugged</dt><dd id="beep">Put both probes on a rail.</dd>
<dt>Supply on</dt><dd id="volts-read">&ndash;</dd></dl></section>"""

TRAIN = """\
<section class="card script" aria-labelledby="train-head"><h3 id="train-head">Train</h3><!-- own -->
<div class="rows"><label>Train <select id="train"></select></label>
<label>Route <select id="trip"></select></label>
<label>Begins on <select id="train-piece"></select></label><label>at end <select id="train-end"></select></label></div>
<p id="way" class="hint"></p>
<label class="push">Push it <input type="range" id="push" min="0" max="0" step="1" value="0"></label>
<div class="ribbon" id="ribbon"></div>
<p id="train-says" role="status"></p><div id="troubles"></div></section>"""

OUT = """\
<section class="card script" aria-labelledby="out-head"><h3 id="out-head">Print and save</h3>
<fieldset class="taps"><legend>On paper</legend>
<label><input type="checkbox" data-print="plan" checked> plan</label>
<label><input type="checkbox" data-print="findings" checked> findings</label>
<label><input type="checkbox" data-print="tests" checked> test sheet</label>
<label><input type="checkbox" data-print="tables" checked> tables</label>
<label><input type="checkbox" data-print="cards" checked> cards</label></fieldset>
<p class="row"><button type="button" id="print">Print</button>
<button type="button" id="save-plan">Save the plan as SVG</button></p></section>"""

LINK = """\
<section class="card script" aria-labelledby="link-head"><h3 id="link-head">Link</h3>
<p>The address of this page holds the positions, the finding, the probes and the train.</p>
<p><button type="button" id="copy">Copy the link</button> <span id="copied" role="status"></span></p></section>"""
