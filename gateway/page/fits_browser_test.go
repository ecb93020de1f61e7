package page

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// inkOnInk lists words that lie on other words, are cut off, broken in two or
// too small to be read. Those of a drawing are judged by what is printed of each letter, not by its line.
const inkOnInk = `(() => {
	const pen = document.createElement("canvas").getContext("2d");
	const clip = (e, r) => {
		for (let up = e; up && up !== document.body; up = up.parentElement) {
			const how = getComputedStyle(up);
			if (how.position === "fixed" || how.position === "sticky" || how.clipPath !== "none") return null;
			if (how.overflow === "visible" || up instanceof SVGElement) continue;
			const c = up.getBoundingClientRect();
			r = {left: Math.max(r.left, c.left), right: Math.min(r.right, c.right), top: Math.max(r.top, c.top), bottom: Math.min(r.bottom, c.bottom)};
		}
		return r.right - r.left > 1 && r.bottom - r.top > 1 ? r : null;
	};
	const printed = (node, drawn) => {
		const range = document.createRange(), how = getComputedStyle(node.parentElement);
		range.selectNodeContents(node);
		pen.font = [how.fontStyle, how.fontWeight, how.fontSize, how.fontFamily].join(" ");
		const size = pen.measureText(node.data.trim());
		return [...range.getClientRects()].map((r) => {
			if (!drawn) return {left: r.left, right: r.right, top: r.top + 2, bottom: r.bottom - 2};
			// A range does not know that a text was set to a length (textLength); its element does.
			const to = drawn.getScreenCTM(), at = drawn.getStartPositionOfChar(0), y = at.y * to.d + at.x * to.b + to.f, set = node.parentElement.getBoundingClientRect();
			return {left: set.left, right: set.right, top: y - size.actualBoundingBoxAscent * to.d, bottom: y + size.actualBoundingBoxDescent * to.d};
		});
	};
	const words = [], bad = [];
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let node = walk.nextNode(); node; node = walk.nextNode()) {
		const e = node.parentElement, drawn = e.closest("text");
		if (!node.data.trim() || !e.checkVisibility() || e.closest("noscript, option, .unseen, .skip, title, desc")) continue;
		for (const r of printed(node, drawn)) {
			const shown = clip(e, r);
			if (shown) words.push({e, node, drawn, r: shown});
			const sheet = drawn && drawn.closest(".daystrip > svg, .drawing, svg:not(svg svg)").getBoundingClientRect();
			if (sheet && (r.left < sheet.left - 1 || r.right > sheet.right + 1 || r.top < sheet.top - 1 || r.bottom > sheet.bottom + 1)) bad.push("leaves its drawing: " + node.data);
		}
	}
	for (const {node, drawn, e} of words) {
		const size = parseFloat(getComputedStyle(e).fontSize) * (drawn ? drawn.getScreenCTM().d : 1);
		if (size < 10) bad.push("too small to be read, " + size + " px: " + node.data.trim().slice(0, 60));
		if (drawn || node.judged || e.getClientRects().length === 1 && e.offsetHeight < 2 * size) continue;
		node.judged = true;
		for (const word of node.data.matchAll(/\p{L}{4,14}/gu)) {
			const range = document.createRange();
			range.setStart(node, word.index);
			range.setEnd(node, word.index + word[0].length);
			const tops = [...range.getClientRects()].map((r) => r.top);
			if (tops.length && Math.max(...tops) - Math.min(...tops) > 4) bad.push("broken: " + word[0] + " in " + e.outerHTML.slice(0, 80));
		}
	}
	words.sort((a, b) => a.r.top - b.r.top);
	words.forEach((a, i) => {
		for (let j = i + 1; j < words.length && words[j].r.top < a.r.bottom - 1; j++) {
			const b = words[j];
			if (a.node === b.node || (a.drawn && a.drawn === b.drawn)) continue;
			if (a.r.right > b.r.left + 1 && b.r.right > a.r.left + 1 && b.r.bottom > a.r.top + 1) bad.push("on each other: " + a.node.data.trim().slice(0, 60) + " | " + b.node.data.trim().slice(0, 60));
		}
	});
	for (const e of document.querySelectorAll("main *, header *, footer *")) {
		const how = e instanceof HTMLElement && e.checkVisibility() && getComputedStyle(e);
		if (how && how.overflowX !== "visible" && how.overflowX !== "auto" && how.overflowX !== "scroll" && !e.matches(".unseen, .unseen *, input, select") && e.scrollWidth > e.clientWidth + 1) bad.push("cut off: " + e.outerHTML.slice(0, 120));
	}
	return [...new Set(bad)].join("\n");
})()`

// strewn lists labels of a strip that lie on each other or leave it.
const strewn = `[...document.querySelectorAll(".daystrip > svg")].flatMap((svg) => {
	const within = svg.getBoundingClientRect();
	const texts = [...svg.querySelectorAll("text")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width);
	const box = (e) => e.getBoundingClientRect();
	const on = (a, b) => a.right > b.left + 1 && b.right > a.left + 1 && a.bottom > b.top + 4 && b.bottom > a.top + 4;
	return texts.filter((e, i) => box(e).left < within.left - 1 || box(e).right > within.right + 1 || box(e).bottom > within.bottom + 1 ||
		texts.some((f, j) => i < j && on(box(e), box(f))));
}).map((e) => e.outerHTML.slice(0, 200)).join("\n")`

// small24 lists what is to be hit and is smaller than 24 px, beside links
// within a sentence (WCAG 2.2, success criterion 2.5.8).
const small24 = `[...document.querySelectorAll("button, input:not([type=hidden]), select, summary, nav a, main h3 a, .pages a, .spans a, .more a, .filter a")].filter((e) => {
	const r = e.getBoundingClientRect();
	return e.checkVisibility() && (r.width < 24 || r.height < 24);
}).map((e) => e.outerHTML.slice(0, 120)).join("\n")`

// font is a way in which readers see text: their machines have other fonts.
type font struct {
	name, families string
	letter         float64 // em, how wide a letter is in the middle; 0: as it is
}

// fonts are that of the machine, one as wide as the widest in which text is
// commonly set and one as narrow as the narrowest. Where the machine has none
// so wide or narrow, its letters are set apart or together until they take as
// much room, so that every machine tries all three.
var fonts = []font{
	{name: "own"},
	{"wide", `Verdana, "DejaVu Sans", sans-serif`, 0.55},
	{"narrow", `"Liberation Sans Narrow", "Arial Narrow", "Roboto Condensed", sans-serif`, 0.41},
}

// dressed sets all text in a font, loosely where asked: as much as readers may
// (WCAG 2.2, success criterion 1.4.12), and so many per cent as large (1.4.4).
func dressed(f font, loose bool, percent int) string {
	return fmt.Sprintf(`((families, letter, loose, percent) => {
	const pen = document.createElement("canvas").getContext("2d"), text = "Bench: 31.3 °C, far too hot since 12:02 pm; intake shutter";
	let apart = 0, css = "";
	if (letter) {
		pen.font = "100px " + families;
		const is = pen.measureText(text).width / text.length / 100;
		apart = letter > 0.5 ? Math.max(0, letter - is) : Math.min(0, letter - is);
		css = "* { font-family: " + families + " !important; } ";
	}
	if (loose) css += "* { line-height: 1.5 !important; word-spacing: .16em !important; } p { margin-bottom: 2em !important; } ";
	if (apart || loose) css += "* { letter-spacing: " + (apart + (loose ? .12 : 0)) + "em !important; } ";
	if (percent !== 100) css += ":root { font-size: " + percent + "%% !important; }";
	const sheet = new CSSStyleSheet();
	sheet.replaceSync(css);
	document.adoptedStyleSheets = [sheet];
	return true;
})(%q, %g, %t, %d)`, f.families, f.letter, loose, percent)
}

// tooWide reports how far a page is wider than the window.
const tooWide = `document.documentElement.scrollWidth > innerWidth ? "by " + (document.documentElement.scrollWidth - innerWidth) : ""`

// ill lists what is wrong with a page as it stands.
const ill = `[["cut off", ` + cutOff + `], ["wider than the window", ` + tooWide + `], ["one on another", ` + overlaps + `], ["in the way", ` + strewn + `],
	["words", ` + inkOnInk + `], ["without a name", ` + nameless + `], ["too small to be hit", ` + small24 + `]
].filter(([what, list]) => list).map(([what, list]) => what + ":\n" + list).join("\n")`

// fits demands that all of a page can be read, named and hit, and keeps a picture.
func (b *tab) fits(name string) {
	b.t.Helper()
	b.none(name, ill)
	b.shot(name)
}

// showing is how a page is looked at.
type showing struct {
	wide, high int64
	font       font
	loose      bool
	percent    int
}

func (s showing) String() string {
	return fmt.Sprintf("at %d, %s font, loose %t, text at %d %%", s.wide, s.font.name, s.loose, s.percent)
}

// showings are all widths in all fonts, set closely and loosely; or, where the
// tests are not to be thorough, the narrowest in the widest.
func showings() (out []showing) {
	if !thorough() {
		return []showing{{320, 780, fonts[1], true, 100}}
	}
	for _, size := range [][2]int64{{320, 780}, {768, 1024}, {1024, 768}, {1280, 800}, {360, 780}} {
		for _, f := range fonts {
			out = append(out, showing{size[0], size[1], f, true, 100}, showing{size[0], size[1], f, false, 100})
		}
	}
	return out
}

// TestBrowserEveryPageFits looks at every page in every state, at the width of
// a phone, a tablet and a desk, and at the 320 px of success criterion 1.4.10,
// in three fonts: nothing is cut off, on something else or wider than the
// window.
func TestBrowserEveryPageFits(t *testing.T) {
	t.Parallel()
	g := everything(t)
	b := openTab(t, 360, 780)
	b.tour(g, func(name string) {
		b.truth("all is open", opened)
		for _, s := range showings() {
			b.do(chromedp.EmulateViewport(s.wide, s.high))
			b.none(name+" "+s.String(), "("+dressed(s.font, s.loose, s.percent)+", "+ill+")")
		}
		b.truth("as it was", dressed(fonts[0], false, 100))
		b.shots(name)
		b.do(chromedp.EmulateViewport(360, 780))
	})
}

// shots keeps pictures in light and in dark where they are asked for.
func (b *tab) shots(name string) {
	b.t.Helper()
	if os.Getenv("TELLTALE_SHOTS") == "" {
		return
	}
	name = strings.Trim(strings.NewReplacer("/", "-", "?", "-", "&", "-", "=", "-", "%", "", " ", "_").Replace(name), "-")
	for _, size := range [][2]int64{{320, 780}, {768, 1024}, {1024, 768}, {1280, 800}, {360, 780}} {
		b.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, scheme := range []string{"dark", "light"} {
			b.scheme(scheme)
			b.shot(fmt.Sprintf("all-%.60s-%d-%s", name, size[0], scheme))
		}
	}
}

// thorough says that all is looked at, in each state and at each width, which
// takes minutes. Without it some is.
func thorough() bool { return os.Getenv("TELLTALE_THOROUGH") != "" }

// sampled is all, or the first and the last where the tests are not to be thorough.
func sampled[T any](all []T) []T {
	if thorough() || len(all) < 3 {
		return all
	}
	return []T{all[0], all[len(all)-1]}
}

// schemes are light and dark; or, where the tests are not to be thorough, light
// on a phone and dark on anything wider.
func schemes(width int64) []string {
	switch {
	case thorough():
		return []string{"light", "dark"}
	case width < 768:
		return []string{"light"}
	}
	return []string{"dark"}
}

// What is meant to be found is found.
func TestBrowserFindsWordsOnWords(t *testing.T) {
	t.Parallel()
	st, _ := drawnLive(t)
	b := openTab(t, 768, 780)
	b.waiting(st.base, "/")
	b.none("words", inkOnInk)
	for what, bring := range map[string]string{
		"on each other: 31.3": `document.querySelector(".drawing .fig").closest("text").after(document.querySelector(".drawing .fig").closest("text").cloneNode(true))`,
		"leaves its drawing":  `document.querySelector(".drawing .hung .named").setAttribute("x", "-20")`,
		"| Mains wiring, ":    `document.querySelector(".foot p:last-of-type").style.marginTop = "-25px"`,
		"cut off: <h2":        `Object.assign(document.querySelector(".housename h2").style, {width: "40px", overflow: "hidden", whiteSpace: "nowrap"})`,
	} {
		b.waiting(st.base, "/")
		list, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("("+bring+", "+inkOnInk+")")) // at once, before the page is brought up to date
		if err != nil || !strings.Contains(list, what) {
			t.Errorf("want %q, got %q, %v", what, list, err)
		}
	}
}
