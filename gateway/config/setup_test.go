package config

import (
	"testing"
)

func TestAFileWithoutAHouseIsGoodToSetUpAlone(t *testing.T) {
	const text = "[page]\naddress = \"127.0.0.1:0\"\n"
	if c, _ := Parse("x.toml", []byte(text), fixedEnv); c != nil {
		t.Error("a file without a house is good for watching")
	}
	c, problems := ParseToSetUp("x.toml", []byte(text), fixedEnv)
	if c == nil || c.Watches() || c.Page.Address != "127.0.0.1:0" || !c.Broker.Run {
		t.Fatalf("got %+v, %v", c, problems)
	}
	for _, bad := range []string{
		"[page]\ncolour = \"blue\"\n",
		"[page]\naddress = \"0.0.0.0:8470\"\n", // others could reach it without a password
		"[house.long-house]\n",
		"[probe.bench-1]\nplace = \"a/b\"\ntopic = \"a\"\ntemperature = {}\n",
	} {
		if c, _ := ParseToSetUp("x.toml", []byte(bad), fixedEnv); c != nil {
			t.Errorf("good to set up: %q", bad)
		}
	}
}
