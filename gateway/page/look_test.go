package page

import "testing"

func TestFormsThatActAreTakenOut(t *testing.T) {
	s := &Server{acts: map[string]bool{"/alarms/shelve": true, "/season": true}}
	const act, own = `<form class="a" method="post" action="/alarms/shelve"><input name="x" value="a > b"><button>Shelve</button></form>`,
		`<form method="post" action="/sign-out"><button>Sign out</button></form>`
	for _, c := range []struct{ in, want string }{
		{"", ""},
		{"<p>41.2&nbsp;°C &lt; 42</p>", "<p>41.2&nbsp;°C &lt; 42</p>"},
		{"<p>a</p>" + act + "<p>b</p>", "<p>a</p><p>b</p>"},
		{own, own},
		{`<form method="get" action="/log"><input></form>`, `<form method="get" action="/log"><input></form>`},
		{"<li>a<details><summary>Shelve…</summary>\n" + act + " </details>b</li>", "<li>ab</li>"},
		{"<details><summary>Season</summary>" + act + "<p>It is winter.</p></details>", "<details><summary>Season</summary><p>It is winter.</p></details>"},
		{"<details><summary>All</summary><ul><li>1</li></ul></details>", "<details><summary>All</summary><ul><li>1</li></ul></details>"},
		{"<details><summary>More</summary><details><summary>Shelve</summary>" + act + "</details></details>", ""},
		{"<details><summary>More</summary><details><summary>In</summary>x</details>" + act + "</details>",
			"<details><summary>More</summary><details><summary>In</summary>x</details></details>"},
		{"<details open>never closed " + own, "<details open>never closed " + own},
		{`<form method="post" action="/season?x=1"><button>Set</button></form>`, ""},
		{`<!doctype html><title>A & B</title><script src="/x.js" defer></script>`, `<!doctype html><title>A & B</title><script src="/x.js" defer></script>`},
	} {
		if got := string(s.withoutActs([]byte(c.in))); got != c.want {
			t.Errorf("%s\ngot  %s\nwant %s", c.in, got, c.want)
		}
	}
}
