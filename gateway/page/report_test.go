package page

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/reports"
	"telltale/gateway/page/words"
)

func reporting(t *testing.T) (*started, *fakeReports) {
	f := newFake()
	r := &fakeReports{f: f}
	return start(t, Options{Watch: f, Name: "Thimble Garth", Reports: r, Downloads: &fakeDownloads{step: 10 * time.Minute}}), r
}

func TestReportOfDayWeekSeason(t *testing.T) {
	st, _ := reporting(t)
	for path, want := range map[string][]string{
		"/report":                                       {"Long House: Sunday 21 June 2026", "It is not over yet: all that follows is up to 12:02", "Thimble Garth", "Made by Telltale on Sun 21 June 2026 12:02 UTC"},
		"/report?house=low-house&on=2026-06-20":         {"Low House: Saturday 20 June 2026", "Ada by mail", "Pipe at 1.5", "Growing degrees"},
		"/report?of=week&on=2026-06-21":                 {"Mon 15 June 2026 to Sun 21 June 2026", "of=week&amp;on=2026-06-14"},
		"/report?of=week&on=2026-06-01":                 {"Mon 1 June 2026 to Sun 7 June 2026", "of=week&amp;on=2026-05-31", "of=week&amp;on=2026-06-08"},
		"/report?of=season":                             {"The season “open”", "Sat 16 May 2026 12:02 to Mon 22 June 2026 00:00"},
		"/report?of=season&on=2026-04-01":               {"The season “winter”", "Sat 21 March 2026 00:00 to Sat 16 May 2026 12:02"},
		"/report?of=span&from=2026-06-01&to=2026-06-03": {"Mon 1 June 2026 to Wed 3 June 2026"},
	} {
		a, text := st.ask("GET", path, nil)
		if a.StatusCode != 200 {
			t.Errorf("%s: status %d", path, a.StatusCode)
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q is missing", path, w)
			}
		}
	}
	if _, text := st.ask("GET", "/report", nil); strings.Contains(text, ">Later<") {
		t.Error("today's report leads to tomorrow's")
	}
}

func TestReportRefuses(t *testing.T) {
	st, r := reporting(t)
	for path, want := range map[string]string{
		"/report?house=hot-house":                       "There is no such house.",
		"/report?of=month":                              "a day, a week, a season or a span",
		"/report?on=2026-13-01":                         "must be a day like 2026-06-21",
		"/report?on=2026-06-22":                         "That has not begun yet.",
		"/report?of=span&from=2026-06-03&to=2026-06-01": "must not be after the last",
		"/report?of=span&from=2020-06-03&to=2026-06-01": "400 days at most",
		"/report?of=span&from=2026-06-03":               "needs its first day",
	} {
		a, text := st.ask("GET", path, nil)
		if a.StatusCode/100 != 4 || !strings.Contains(text, want) {
			t.Errorf("%s: status %d, want 4xx with %q", path, a.StatusCode, want)
		}
	}
	r.err = errTorn
	if a, text := st.ask("GET", "/report", nil); a.StatusCode != 500 || strings.Contains(text, "torn") {
		t.Errorf("a broken store: status %d", a.StatusCode)
	}
}

// The table reads back by the standard library, and says what the page says.
func TestReportTable(t *testing.T) {
	st, _ := reporting(t)
	a, text := st.ask("GET", "/report?on=2026-06-19&form=csv", nil, "Accept-Language", "de-DE")
	if got := a.Header.Get("Content-Disposition"); got != `attachment; filename="report-long-house-day-2026-06-19.csv"` {
		t.Errorf("it is called %s", got)
	}
	if !strings.Contains(text, "\r\n") {
		t.Error("RFC 4180 ends lines by CR LF")
	}
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]string{}
	for _, r := range rows[1:] {
		found[strings.Join(r[:3], "|")] = r[3] + " " + r[4]
		if _, err := time.Parse(time.RFC3339, r[5]); r[5] != "" && err != nil {
			t.Errorf("row %q: %v", r, err)
		}
	}
	for key, want := range map[string]string{
		"climate|Bench|temperature known": "21.2500 h", "climate|Bench|temperature not known": "2.7500 h",
		"drives|Exhaust fan|ran": "0.8333 h", "ground loop|pipe at 2.3 m|heat in": "1.2 kWh", "told|Ada by mail|given up": "1 ", "told|Ben by phone|only rehearsed": "2 ", "told|Ben by phone|handed over": "4 ",
		"alarms|all alarms|number": "3 ", "alarms|all alarms|not acknowledged within 10 minutes": "66.6667 %",
	} {
		if found[key] != want {
			t.Errorf("%s is %q, want %q", key, found[key], want)
		}
	}
	if _, html := st.ask("GET", "/report?on=2026-06-19", nil); !strings.Contains(html, "for 2.8\u00a0h nothing is known") {
		t.Error("the page does not say what the table says")
	} else {
		wantAll(t, reading(html), "Only rehearsed, so that nothing was sent: 2 to Ben by phone.")
	}
}

// A report to keep needs no other file and runs no script.
func TestReportFileStandsAlone(t *testing.T) {
	st, r := reporting(t)
	a, text := st.ask("GET", "/report?on=2026-06-20&form=html", nil)
	if !strings.HasSuffix(a.Header.Get("Content-Disposition"), `.html"`) {
		t.Errorf("it is called %s", a.Header.Get("Content-Disposition"))
	}
	if m := regexp.MustCompile(`<script|<link|\ssrc=|\shref="/?[a-z]|url\(`).FindString(text); m != "" {
		t.Errorf("it holds %q", m)
	}
	rep, err := r.Report(t.Context(), "long-house", dayOfReport(2026, 6, 20))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := WriteReport(&b, alarms.Words{}, rep, reports.Heading{Garden: "Thimble Garth", Kind: "day"}); err != nil {
		t.Fatal(err)
	}
	if b.String() != text {
		t.Error("the command would write other words than the page")
	}
}

// Printed on A4 and on Letter nothing is lost: every word of the page stands in
// the print, and a table's row is not cut.
func TestReportPrints(t *testing.T) {
	st, _ := reporting(t)
	b := openTab(t, 1280, 900)
	b.scheme("dark")
	for _, paper := range []struct {
		name          string
		width, height float64
	}{{"a4", 8.27, 11.69}, {"letter", 8.5, 11}} {
		for of, most := range map[string]int{"day": 5, "season": 9} {
			b.do(chromedp.Navigate(st.base + "/report?on=2026-06-20&of=" + of))
			got, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper.width, PaperHeight: paper.height})
			if err != nil {
				t.Fatal(err)
			}
			if pages := pagesOf(got.Data); pages < 1 || pages > most {
				t.Errorf("%s of a %s: %d pages, want 1 to %d", paper.name, of, pages, most)
			}
			if dir := os.Getenv("TELLTALE_SHOTS"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("report-%s-%s.pdf", of, paper.name)), got.Data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			wholePrint(t, got.Data)
		}
	}
}

// pagesOf counts the pages of a PDF.
func pagesOf(pdf []byte) (n int) {
	for _, end := range []string{"\n", " ", "/"} {
		n += bytes.Count(pdf, []byte("/Type /Page"+end))
	}
	return n
}

// wholePrint looks for words at the right end of wide tables, where pdftotext is
// installed.
func wholePrint(t *testing.T, pdf []byte) {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil && os.Getenv("TELLTALE_REQUIRE_BROWSER") == "1" {
		t.Fatal("pdftotext (poppler-utils) is not installed, but TELLTALE_REQUIRE_BROWSER=1 asks for it")
	}
	if err != nil {
		t.Log("pdftotext is not installed: the print is not read back")
		return
	}
	file := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(tool, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	flat := strings.Join(strings.Fields(string(text)), " ")
	for _, want := range []string{"Thimble Garth", "Long House", "Made by Telltale", "Not known", "Not needed", "Called in vain", "Recommended", "the door is open now", "Telltale only watches"} {
		if !strings.Contains(flat, want) {
			t.Errorf("the print lacks %q", want)
		}
	}
	for _, not := range []string{"Keep as a page", "Look back", "To the page"} {
		if strings.Contains(flat, not) {
			t.Errorf("the print holds %q", not)
		}
	}
}

func TestBrowserReport(t *testing.T) {
	t.Parallel()
	st, _ := reporting(t)
	for _, width := range sampled([]int64{360, 768, 1280}) {
		b := openTab(t, width, 900)
		for _, scheme := range schemes(width) {
			b.scheme(scheme)
			for name, path := range map[string]string{"day": "/report", "season": "/report?of=season", "download": "/download"} {
				b.do(chromedp.Navigate(st.base + path))
				b.none(name+" leaves the window", cutOff)
				b.none(name+" has nameless controls", nameless)
				b.shot(fmt.Sprintf("%s-%d-%s", name, width, scheme))
			}
		}
		b.noComplaints()
	}
}

// Whatever the config has that somebody named, or that says where it is, does not stand
// on the sheet of a year, nor in what is kept of it, in neither language.
func TestTheSheetOfAYearNamesNobody(t *testing.T) {
	st, _ := reporting(t)
	h := reportPlan()
	private := []string{"Thimble", "Garth", "Long House", "Low House", "long-house", "low-house", "52", "51.9", "latitude", "Breitengrad", "UTC", "Ada", "Ben"}
	for _, p := range h.Places {
		private = append(private, p.Name)
	}
	for _, tongue := range []string{"en-GB", "de-DE"} {
		for _, house := range []string{"long-house", "low-house"} {
			_, page := st.ask("GET", "/report/year?house="+house+"&year=2026", nil, "Accept-Language", tongue)
			_, sheet, _ := strings.Cut(page, "<article")
			sheet, _, whole := strings.Cut(sheet, "</article>")
			a, file := st.ask("GET", "/report/year?house="+house+"&year=2026&form=html", nil, "Accept-Language", tongue)
			if got := a.Header.Get("Content-Disposition"); got != `attachment; filename="greenhouse-2026.html"` {
				t.Errorf("it is called %s", got)
			}
			title := page[strings.Index(page, "<title>"):strings.Index(page, "</title>")]
			_, body, _ := strings.Cut(file, "</style>") // the style knows nobody
			if !whole || !strings.Contains(file, "<article"+sheet+"</article>") {
				t.Fatalf("%s: the sheet is not whole, or another one is kept", tongue)
			}
			for _, word := range private {
				if regexp.MustCompile(`(?i)\b` + regexp.QuoteMeta(word) + `\b`).MatchString(title + reading(body) + body[:strings.Index(body, "</head>")]) {
					t.Errorf("%s, %s: %q stands on the sheet", tongue, house, word)
				}
			}
		}
	}
}

// A year that has not ended says so, and which days lack readings.
func TestTheSheetOfAYearSaysWhatIsMissing(t *testing.T) {
	st, _ := reporting(t)
	_, page := st.ask("GET", "/report/year", nil)
	wantAll(t, reading(page), "The year is not over: this is what was until 21 June, 172 of its 365 days.",
		"There are readings of 155 of 172 days. None are of: 1 January to 9 January, 20 January, 9 February, 1 March, 21 March, 10 April, and 3 days later in the year.",
		"The climate is that of the air that goes into the pipes.", "At 1.5 m, °C", "Exhaust fan, hours")
	for path, want := range map[string]string{"?year=2025": "of the years 2026 to 2026", "?year=x": "of the years 2026 to 2026", "?house=hot-house": "no such house"} {
		if a, text := st.ask("GET", "/report/year"+path, nil); a.StatusCode/100 != 4 || !strings.Contains(text, want) {
			t.Errorf("%s: status %d, want 4xx with %q", path, a.StatusCode, want)
		}
	}
}

// The sheet is one page of A4, with many depths and in the longer language too, and black
// on white for who reads in the dark.
func TestTheSheetOfAYearPrintsOnOnePage(t *testing.T) {
	st, _ := reporting(t)
	b := openTab(t, 1280, 900)
	for _, tongue := range []string{"en", "de"} {
		for _, house := range []string{"long-house", "low-house"} {
			b.scheme("dark")
			b.do(chromedp.Navigate(st.base + "/report/year?house=" + house))
			b.truth("the language is chosen", `(document.cookie = "`+words.TongueCookie+`=`+tongue+`; path=/", true)`)
			b.do(chromedp.Navigate(st.base + "/report/year?house=" + house))
			b.truth("it is in "+tongue, `document.documentElement.lang === "`+tongue+`"`)
			for _, width := range []int64{1280, 390} {
				b.do(chromedp.EmulateViewport(width, 900))
				for _, scheme := range []string{"dark", "light"} {
					b.scheme(scheme)
					b.none(fmt.Sprintf("the sheet of %s in %s at %d", house, tongue, width), ill)
					b.shot(fmt.Sprintf("year-%s-%s-%d-%s", house, tongue, width, scheme))
				}
			}
			got, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
			if err != nil {
				t.Fatal(err)
			}
			if n := pagesOf(got.Data); n != 1 {
				t.Errorf("%s in %s: %d pages, want one", house, tongue, n)
			}
			// A4 is 210 by 297 mm, 595.3 by 841.9 points (ISO 216, ISO 32000).
			if !regexp.MustCompile(`/MediaBox ?\[0 0 59[45]\S* 84[12]`).Match(got.Data) {
				t.Errorf("%s in %s: it is not A4", house, tongue)
			}
			if dir := os.Getenv("TELLTALE_SHOTS"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, "year-"+house+"-"+tongue+".pdf"), got.Data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			_, err = chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			if err != nil {
				t.Fatal(err)
			}
			b.none("it is printed in colour", `[...document.querySelectorAll("main *")].map((e) => getComputedStyle(e)).flatMap((s) => [s.color, s.fill, s.stroke]).filter((c) => {
				const m = /^rgb\((\d+), (\d+), (\d+)\)$/.exec(c);
				return m && !(m[1] === m[2] && m[2] === m[3]);
			}).join("\n")`)
			b.truth("black on white", `getComputedStyle(document.querySelector(".sheet h1")).color === "rgb(0, 0, 0)"`)
		}
	}
}
