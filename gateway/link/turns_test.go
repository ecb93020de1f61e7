package link

import (
	"fmt"
	"net"
	"net/url"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Messages are retained and taken back, by hand and by wills, while others ask
// for all of them. The race detector finds what the library reads unlocked;
// without it, the test shows that nobody waits for ever.
func TestRetainingBesideSubscribing(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: gardenAccounts})
	var all sync.WaitGroup
	for i := range 2 {
		writer := client(t, login(b, "both", "moss of the wall"))
		all.Go(func() {
			for n := range 200 {
				for _, payload := range []string{"1", ""} {
					done(t, writer.Publish(fmt.Sprintf("thimble-garth/w%d/%d", i, n%5), 1, true, payload))
				}
			}
		})
		reader := client(t, login(b, "both", "moss of the wall"))
		all.Go(func() {
			for range 200 {
				done(t, reader.Subscribe("thimble-garth/#", 0, func(mqtt.Client, mqtt.Message) {}))
			}
		})
	}
	for range 20 {
		all.Go(func() {
			var conn net.Conn
			client(t, func(o *mqtt.ClientOptions) {
				login(b, "both", "moss of the wall")(o)
				o.SetWill("thimble-garth/will", "gone", 0, true)
				o.SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (c net.Conn, err error) {
					conn, err = net.Dial("tcp", u.Host)
					return conn, err
				})
			})
			conn.Close()
		})
	}
	all.Wait()
	got := make(chan string, 2)
	late := client(t, login(b, "both", "moss of the wall"))
	done(t, late.Subscribe("thimble-garth/will", 0, func(_ mqtt.Client, m mqtt.Message) { got <- string(m.Payload()) }))
	select {
	case payload := <-got:
		if payload != "gone" {
			t.Errorf("the will is %q", payload)
		}
	case <-time.After(patience):
		t.Error("the will was not kept")
	}
}

func done(t *testing.T, tok mqtt.Token) {
	if !tok.WaitTimeout(patience) || tok.Error() != nil {
		t.Error("the broker does not answer: ", tok.Error())
	}
}
