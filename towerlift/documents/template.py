"""How a paper is laid out, for the typesetter; all words reach it as data."""

TEMPLATE = r"""
#let d = json(bytes(sys.inputs.data))
#set document(title: d.title, date: none)
#set text(font: d.fonts, size: d.letters * 1pt, lang: "en", hyphenate: false)
#set par(leading: 0.5em, spacing: 0.7em)
#set table.cell(breakable: false)
// Cards are read at arm's length: nothing on them is smaller than their letters.
#let less(size) = if d.letters >= 14 { 1em } else { size * 1em }
#show heading: it => block(
  above: if it.level == 1 { 0.3em } else { 1.1em }, below: 0.55em, sticky: true,
  text(size: (1.35em, 1.15em, 1em).at(calc.min(it.level, 3) - 1), weight: "bold", it.body))

#let loud(body) = block(width: 100%, fill: black, inset: 0.5em, breakable: false, sticky: true,
  text(fill: white, weight: "bold", body))

#let words(b) = {
  if b.weight == "loud" { loud(b.words) }
  if b.weight == "strong" { par(text(weight: "bold", b.words)) }
  if b.weight == "quiet" { par(text(size: less(0.85), b.words)) }
  if b.weight == "plain" { par(b.words) }
}

#let value(c) = if type(c) == dictionary {
  box(fill: black, inset: (x: 0.3em, y: 0.2em), text(fill: white, weight: "bold", c.t))
} else { c }

#let facts(b) = table(
  columns: (auto, 1fr) * b.columns, stroke: (x: none, y: 0.4pt + luma(55%)),
  inset: (x: 0.35em, y: 0.32em), align: left + if b.long { top } else { horizon },
  ..b.rows.map(r => if b.long {
      (text(size: less(0.88), weight: "bold", value(r.at(0))), value(r.at(1))) }
    else { (text(size: less(0.88), value(r.at(0))), text(weight: "bold", value(r.at(1)))) })
    .flatten())

#let cell(c) = if type(c) == dictionary {
  table.cell(fill: black, text(fill: white, weight: "bold", c.t)) } else { c }

#let sheet(b) = {
  if b.name != "" {
    block(above: 1em, below: 0.45em, sticky: true, text(weight: "bold", b.name)) }
  set text(size: less(b.size))
  table(
    columns: b.widths.map(w => if w == 0 { auto } else { w * 1fr }),
    align: b.aligns.map(a => if a { right + top } else { left + top }),
    stroke: 0.4pt + luma(35%), inset: (x: 0.4em, y: if b.tall { 0.85em } else { 0.32em }),
    table.header(..b.heads.map(h =>
      table.cell(fill: luma(87%), align: left + bottom, text(weight: "bold", h)))),
    ..b.rows.flatten().map(cell))
  for note in b.notes { par(text(size: less(0.9), note)) }
}

#let picture(b) = block(breakable: false, width: 100%, {
  align(center, image(bytes(b.svg), format: "svg", width: b.width * 1mm, alt: b.caption))
  if b.caption != "" { par(text(size: less(0.85), b.caption)) }
})

#let tick = box(width: 0.95em, height: 0.95em, stroke: 1pt, baseline: 0.15em)
#let ticks(b) = block(breakable: b.items.len() > 8, for item in b.items {
  grid(columns: (1.6em, 1fr), inset: (y: 0.28em), tick, item) })

#let signing(b) = table(
  columns: (auto, 3fr, 1.5fr, 1fr, 1.55fr), stroke: 0.5pt,
  inset: (x: 0.4em, y: 0.5em), align: left + horizon,
  table.header(..("", "", "name", "time", "signature").map(h =>
    table.cell(fill: luma(87%), text(size: less(0.85), weight: "bold", h)))),
  ..b.rows.map(r => (text(weight: "bold", r.mark), text(size: less(0.88), r.what),
    r.name, text(size: less(0.88), r.time),
    if r.name == "" {
      box(height: 1.7em, text(size: less(0.88), weight: "bold", r.note))
    } else { text(size: less(0.88), r.note) })).flatten())

#let one(b) = {
  if b.type == "heading" { heading(level: b.level + 1, b.words) }
  if b.type == "words" { words(b) }
  if b.type == "facts" { facts(b) }
  if b.type == "grid" { sheet(b) }
  if b.type == "picture" { picture(b) }
  if b.type == "ticks" { ticks(b) }
  if b.type == "signing" { signing(b) }
  if b.type == "turn" { pagebreak(weak: true) }
}

#let head = {
  set text(size: 8.5pt)
  grid(columns: (1fr, auto), align: (left + bottom, right + bottom),
    strong(d.title), d.plan)
  v(-0.35em)
  line(length: 100%, stroke: 0.6pt)
  if d.verdict != "" { v(-0.7em); block(width: 100%, fill: black, inset: 2.5pt,
    align(center, text(fill: white, weight: "bold", d.verdict))) }
}
#let foot = context {
  set text(size: 7.5pt)
  line(length: 100%, stroke: 0.6pt)
  v(-0.4em)
  grid(columns: (1fr, auto), gutter: 1em, d.identity,
    [page #counter(page).display("1 of 1", both: true)])
  v(-0.35em)
  d.caution
}
#let stamped(leaf) = if leaf.stamp != "" {
  place(center + horizon, rotate(-52deg, box(width: 260mm, align(center,
    text(size: 76pt, weight: "bold", fill: black.transparentize(100%),
      stroke: 1.1pt + black.transparentize(50%), leaf.stamp)))))
}

#for leaf in d.leaves {
  page(paper: d.paper, flipped: leaf.wide,
    margin: (x: 14mm, top: 19mm, bottom: 20mm), header: head, footer: foot,
    header-ascent: 3mm, footer-descent: 3mm, foreground: stamped(leaf), {
      heading(level: 1, leaf.title)
      if leaf.stamp != "" { loud(leaf.stamp + ": " + leaf.because.join("; ")) }
      for b in leaf.blocks { one(b) }
    })
}
"""
