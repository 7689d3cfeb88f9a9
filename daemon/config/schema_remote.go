package config

import (
	"time"

	"headroom/rules/units"
)

// Remote says to which store the record is sent; without a URL to none.
type Remote struct {
	// URL of the store, http or https.
	URL string
	// Protocol is "v1" or "v2".
	Protocol string
	// Labels of every series, beside the machine's name, as "site=yard".
	Labels []string
	// User is sent with the password in PasswordFile; TokenFile holds a bearer
	// token instead. CAFile holds certificates to trust.
	User, PasswordFile, TokenFile, CAFile string
	// Window is "auto", "1 s", "10 s" or "1 min".
	Window string
	// DailyBytes is the budget of a day, both ways; 0 for no limit.
	DailyBytes int64
	// Every is how much of the record waits until it is sent.
	Every time.Duration
	// CatchUp is how many times faster than life what lies behind is sent.
	CatchUp float64
	// AnyClock sends times that nobody vouched for.
	AnyClock bool
}

// Width is the fixed width of the windows; 0 where the budget chooses.
func (r *Remote) Width() time.Duration {
	return map[string]time.Duration{"1 s": time.Second, "10 s": 10 * time.Second, "1 min": time.Minute}[r.Window]
}

func remoteSchema() []Section {
	return []Section{{
		Name: "remote", Doc: "A store of many machines: the record is sent by Prometheus' remote-write protocol, days later if there was no signal. Off until it has a url. Sending begins with the start of the program at which it got one.",
		Keys: append(remoteStoreKeys(), remotePaceKeys()...),
	}}
}

func remoteStoreKeys() []Key {
	text := func(name, doc string, of func(r *Remote) any) Key {
		return Key{Name: name, Kind: Text, Default: `""`, Doc: doc, field: func(c *Config, _ int) any { return of(&c.Remote) }}
	}
	return []Key{
		{Name: "url", Kind: Text, Example: `"https://store.example.invalid/api/v1/write"`, Doc: "The store's address; without one it is off. Without a path it is /api/v1/write.",
			field: func(c *Config, _ int) any { return &c.Remote.URL }},
		{Name: "protocol", Kind: Choice, Choices: []string{"v1", "v2"}, Default: `"v1"`, Why: "every store takes it; some answer yes to v2 and store nothing",
			Doc: "Version of the protocol.", field: func(c *Config, _ int) any { return &c.Remote.Protocol }},
		{Name: "labels", Kind: Texts, Default: `[]`, Doc: "Further labels of every series, like \"site=yard\", eight at most. The machine's name is the label machine.",
			field: func(c *Config, _ int) any { return func(all []string) { c.Remote.Labels = all } }},
		text("token_file", "File with a bearer token.", func(r *Remote) any { return &r.TokenFile }),
		text("user", "Name to log in with; empty for none.", func(r *Remote) any { return &r.User }),
		text("password_file", "File with the password.", func(r *Remote) any { return &r.PasswordFile }),
		text("ca_file", "File with certificates to trust, PEM; empty for the system's.", func(r *Remote) any { return &r.CAFile }),
	}
}

func remotePaceKeys() []Key {
	return []Key{
		{Name: "window", Kind: Choice, Choices: []string{"auto", "1 s", "10 s", "1 min"}, Default: `"auto"`, Why: "as fine as the budget pays for; 10 s without one",
			Doc: "Readings are sent as least, greatest and mean of windows this wide, and wider ones where the budget asks for it.", field: func(c *Config, _ int) any { return &c.Remote.Window }},
		{Name: "budget", Kind: Size, Example: `"20 MB"`,
			Doc: "Data of a day (UTC), both ways, with TLS and headers but without those of IP. Without it there is no limit. Alarms, headroom and counters are sent beyond it too: some 3 MB for 24 h of watching.", field: func(c *Config, _ int) any { return &c.Remote.DailyBytes }},
		{Name: "every", Kind: Measure, Quantity: units.Duration, Min: 60, Max: 3600, Default: `"1 min"`, Why: "longer is cheaper: each message has its headers",
			Doc: "How much is collected for one message.", field: func(c *Config, _ int) any { return &c.Remote.Every }},
		{Name: "catch_up", Kind: Number, Min: 2, Max: 100000, Default: `600`, Why: "ten hours in a minute",
			Doc: "How many times faster than life the record is sent after days without signal.", field: func(c *Config, _ int) any { return &c.Remote.CatchUp }},
		{Name: "any_clock", Kind: Flag, Default: `false`, Why: "wrong times can't be taken back from a store",
			Doc: "Send even while neither a time server nor a person has vouched for the clock. For boards with a battery clock and no time server.", field: func(c *Config, _ int) any { return &c.Remote.AnyClock }},
	}
}
