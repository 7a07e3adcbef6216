"""How pictures look: one style sheet for all of them, with a value of its own for every token a page may set.

A picture carries these rules, so it also prints by itself. A page that shows it inline sets the tokens (`--piece-fill`
and the like) or has stricter rules of its own; every rule here is bound to `.picture`, so none reaches the page. Lines
keep their width on the screen whatever the scale, and colours are never the only sign: cut edges are full lines, the
margin is dashed, marks are dotted, what cannot be used is hatched.
"""

STYLE = (
    ".picture{background:var(--picture-ground,#fbf8f1);color:var(--picture-ink,#2a2622);"
    "font-family:var(--picture-font,system-ui,sans-serif);font-variant-numeric:tabular-nums}"
    ".picture path,.picture line,.picture circle{vector-effect:non-scaling-stroke;stroke-linejoin:round}"
    ".picture text{fill:currentColor;text-anchor:middle}"
    ".picture .sheet{fill:var(--sheet-fill,#fffdf8);stroke:currentColor;stroke-width:1.5}"
    ".picture .margin{fill:none;stroke:var(--picture-quiet,#8a8174);stroke-width:.8;stroke-dasharray:6 4}"
    ".picture .remnant{fill:var(--remnant-fill,#f1ece0);stroke:var(--picture-quiet,#8a8174);stroke-dasharray:10 4 2 4}"
    ".picture .piece{fill:var(--piece-fill,#e6dfd0);stroke:var(--piece-line,#2a2622);stroke-width:1}"
    ".picture .k2{fill:var(--piece-fill-2,#dbe1d6)}"
    ".picture .k3{fill:var(--piece-fill-3,#d9dfe4)}"
    ".picture .k4{fill:var(--piece-fill-4,#ead9cd)}"
    ".picture .piece:focus{outline:none;stroke:var(--picture-accent,#a63d17);stroke-width:3}"
    ".picture .piece text{stroke:none;font-weight:600}"
    ".picture .marks{fill:none;stroke:var(--mark-line,#2a2622);stroke-width:1;stroke-dasharray:1.5 2.5}"
    ".picture .sketch{fill:none;stroke:currentColor;stroke-width:1.2}"
    ".picture .thin{fill:none;stroke:var(--picture-quiet,#8a8174);stroke-width:.8}"
    ".picture .hidden{fill:none;stroke:var(--picture-quiet,#8a8174);stroke-width:.8;stroke-dasharray:5 3}"
    ".picture .axis{fill:none;stroke:var(--picture-quiet,#8a8174);stroke-width:.8;stroke-dasharray:12 3 2 3}"
    ".picture .corner{fill:currentColor}"
    ".picture .hatch{fill:none;stroke:var(--picture-quiet,#8a8174);stroke-width:1}"
    ".picture .start{text-anchor:start}"
    ".picture .end{text-anchor:end}"
    ".picture .quiet{fill:var(--picture-quiet-text,#635b50)}"
    ".picture .pin{cursor:pointer}"
    ".picture .pin path{fill:none;stroke:var(--picture-accent,#a63d17);stroke-width:1.5}"
    ".picture .pin circle{fill:var(--picture-accent,#a63d17);stroke:var(--picture-ground,#fbf8f1);stroke-width:1.5}"
    ".picture .pin .place{fill:none;stroke:var(--picture-accent,#a63d17);stroke-width:2}"
    ".picture .pin.note circle{fill:var(--picture-quiet-text,#635b50)}"
    ".picture .pin.note path,.picture .pin.note .place{stroke:var(--picture-quiet-text,#635b50)}"
    ".picture .pin.note .place{fill:none}"
    ".picture .pin text{fill:var(--picture-ground,#fbf8f1);font-weight:700}"
)
"""The same text in every picture, so a server that forbids inline styles can name its hash or serve it as a file."""
