"""How the page looks: one style sheet, by day and by night, on a narrow screen and on paper."""

from __future__ import annotations

from typing import Final

from .colour import DAY, NIGHT, variables
from .markup import Markup

_RULES: Final = """
*{box-sizing:border-box}
html{scroll-padding-top:1rem}
body{margin:0;background:var(--page);color:var(--ink);
 font:16px/1.5 system-ui,-apple-system,"Segoe UI","DejaVu Sans",sans-serif}
code,pre,.source,.scale,.name,svg text{font-family:ui-monospace,"SF Mono",Consolas,"DejaVu Sans Mono",monospace}
a{color:var(--link)}
a:focus-visible,summary:focus-visible,[tabindex]:focus-visible{outline:3px solid var(--link);outline-offset:2px}
.skip{position:absolute;left:-999rem}
.skip:focus{left:1rem;top:1rem;background:var(--card);padding:.5rem 1rem;z-index:1}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
header,main,footer{max-width:76rem;margin:0 auto;padding:0 1.25rem}
header{padding-top:2rem}
header p{margin:0;color:var(--dim)}
h1{font-size:1.05rem;font-weight:600;margin:0;letter-spacing:.01em}
h2{font-size:1.35rem;margin:3rem 0 .75rem;padding-top:.75rem;border-top:2px solid var(--ink)}
h3{font-size:1.1rem;margin:2rem 0 .5rem}
h4{font-size:1rem;margin:0}
.lead{font-size:clamp(1.35rem,1rem + 2vw,2.1rem);line-height:1.25;font-weight:650}
.lead{margin:1.25rem 0 .5rem;text-wrap:balance}
.lead .error{color:var(--error)}
.lead .good{color:var(--good)}
.more{font-size:1.05rem;margin:.35rem 0;max-width:62rem}
.counts{display:flex;flex-wrap:wrap;gap:.5rem 2rem;padding:0;margin:1.25rem 0 0;list-style:none}
.counts b{font-size:1.35rem;font-variant-numeric:tabular-nums}
nav ul{display:flex;flex-wrap:wrap;gap:.25rem 1.25rem;padding:0;margin:1.25rem 0 0;list-style:none}
.badge{font-size:.8rem;font-weight:650;white-space:nowrap}
.error{color:var(--error)}.warning,.checked,.shown{color:var(--warning)}.note{color:var(--note)}.good,.proved{color:var(--good)}
.dim,figcaption,.where{color:var(--dim)}
.where,figcaption,.notes,.dim{font-size:.875rem}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%}
th{text-align:left;font-weight:600}
thead th{font-size:.8rem;color:var(--dim);border-bottom:1px solid var(--line);vertical-align:bottom}
td,th{padding:.35rem .75rem .35rem 0;vertical-align:top}
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.margins tbody tr{border-bottom:1px solid var(--line)}
.margins th[scope=row]{font-weight:400;width:38%}
.margins th small{display:block;color:var(--dim);font-size:.8rem}
.margins .bar{width:34%;min-width:11rem}
.margins td:last-child{white-space:nowrap}
.scale{position:relative;display:block;height:2.6em;font-size:.75rem;font-weight:600}
.scale span{position:absolute;transform:translateX(-50%);white-space:nowrap;color:var(--ink)}
.scale .before{color:var(--dim)}
.scale .low{top:1.3em}
svg{display:block}
.track{fill:var(--line)}
.held{fill:var(--good)}.doubt{fill:var(--dim)}
line.judged{stroke:var(--ink);stroke-width:2}
line.before{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:3 3}
path.edge{fill:var(--card);stroke:var(--ink);stroke-width:1.5}
.bars text{font-size:12px;font-weight:700;fill:var(--ink)}
article,.change{background:var(--card);border:1px solid var(--line);border-radius:6px}
article,.change{padding:1rem 1.25rem;margin:1rem 0}
article h4{font-size:1.1rem}
.name{font-weight:650}
.message{margin:.25rem 0 .75rem;font-size:1.05rem}
.where{margin:.1rem 0}
figure{margin:0 0 .75rem}
dl{display:flex;flex-wrap:wrap;gap:.35rem 2rem;margin:0 0 .5rem}
dt{font-size:.8rem;color:var(--dim)}dd{margin:0;font-weight:600}
summary{cursor:pointer;color:var(--link);font-size:.875rem}
.notes{margin:.35rem 0 0;padding-left:1.25rem}
.list{padding-left:1.25rem}.list li{margin:.35rem 0}
.wave text{font-size:12px;fill:var(--ink)}
.wave .row{fill:var(--dim)}
.wave .op,.wave .bus,.wave .figure{text-anchor:middle}
.wave .bus{fill:var(--dim)}.wave .hit{fill:var(--ink);font-weight:700}
.wave .figure{font-weight:700;font-size:12px}
.wave .line{fill:none;stroke:var(--wave);stroke-width:1.5}
.wave .strobe{stroke-width:2.25}
.wave .torn,.wave .guide{fill:none;stroke:var(--dim)}
.wave .guide{stroke-dasharray:2 4}
.box{fill:var(--code);stroke:var(--line)}
.box.over{stroke-dasharray:4 3}
.has{fill:var(--fill)}.lasts{fill:var(--wave)}
.lacks{stroke:var(--error);stroke-width:1.5}
.hatch{stroke:var(--error);stroke-width:1.5;fill:none}
.wave path.edge,.bars line.edge{fill:none;stroke:var(--error);stroke-width:2}
.source{background:var(--code);font-size:13px;line-height:1.35}
.source td,.source th{padding:0 .75rem 0 .5rem}
.source thead th{padding:.35rem .75rem .35rem .5rem}
.source .code{white-space:pre;width:100%;border-left:1px solid var(--line)}
.source thead th:nth-child(-n+3){text-align:right}
.source th[scope=row]{font-weight:400;text-align:right}
.source th[scope=row] a{color:var(--dim);text-decoration:none}
.source .hit .code{font-weight:700}
.source .found td{padding-bottom:.35rem;font-family:system-ui,sans-serif}
.source .sum td{font-weight:700}
.source .loop td{color:var(--note)}
.source td{white-space:nowrap}
.source .sum td:last-child,.source .found td:last-child{border-left:1px solid var(--line);white-space:normal}
tr:target,article:target,li:target{outline:3px solid var(--link)}
tfoot{font-weight:700;border-top:1px solid var(--line)}
table.sum{font-size:.9rem;margin:.5rem 0 1rem}
table.sum tr>:first-child{width:16rem}
table.sum tr>:nth-child(2),table.sum tr>:nth-child(3){width:7rem;text-align:right}
pre{background:var(--code);padding:.75rem;overflow-x:auto;font-size:13px;line-height:1.4;margin:.5rem 0 0}
pre .new{color:var(--good)}pre .old{color:var(--error)}pre .at{color:var(--dim)}
footer{margin-top:3rem;padding-bottom:2rem;color:var(--dim);font-size:.875rem}
@media (max-width:44rem){
 .margins thead{position:absolute;clip-path:inset(50%)}
 .margins .bar{width:100%}
 .margins tr,.margins td,.margins th[scope=row]{display:block;width:auto;text-align:left}
 .margins td{padding:0 0 .25rem}.margins td[data-of]::before{content:attr(data-of) ": ";color:var(--dim)}
 .margins tr{padding:.5rem 0}
 article,.change{padding:.75rem;margin:.75rem 0}
}
@media print{
 nav,.skip{display:none}
 body{font-size:10pt}
 article,figure,.change,tr{break-inside:avoid}
 h2,h3,h4{break-after:avoid}
 .scroll,pre{overflow:visible}
 .wave{max-width:100%;height:auto}
 a{color:inherit;text-decoration:none}
}
"""


def sheet() -> Markup:
    """The style sheet."""
    night = f"@media (prefers-color-scheme:dark){{:root{{{variables(NIGHT)}}}}}"
    paper = f"@media print{{:root{{{variables(DAY)}}}}}"
    return Markup(f":root{{color-scheme:light dark;{variables(DAY)}}}{night}{paper}{_RULES}")
