package config

// Notify says who else is told of alarms, beside the screen.
type Notify struct {
	Alertmanager, Webhook, MQTT Teller
}

// Teller is one target of notifications; one without a URL is off.
type Teller struct {
	// URL of the server: http, https, mqtt or mqtts.
	URL string
	// MinLevel is "advice", "warning" or "act".
	MinLevel string
	// User is sent with the password in PasswordFile.
	User, PasswordFile string
	// SecretFile holds the token of the Alertmanager, or the webhook's key.
	SecretFile string
	// Topic that all of MQTT's topics begin with; empty makes one from the
	// machine's name.
	Topic string
}

const notifyGroup = `Notifications beyond the screen; each is off until it has a url. They never delay the watching: while a server can't be reached, the newest state of each alarm waits.
Passwords and keys stand in files of their own, never here.`

func notifySchema() []Section {
	s := []Section{
		tellerSection("alertmanager", "The alert manager of Prometheus' world.", `"http://127.0.0.1:9093"`, func(c *Config) *Teller { return &c.Notify.Alertmanager },
			secretKey("token_file", "File with a bearer token.", func(c *Config) *Teller { return &c.Notify.Alertmanager })),
		tellerSection("webhook", "A POST of JSON to any address.", `"https://example.invalid/headroom"`, func(c *Config) *Teller { return &c.Notify.Webhook },
			secretKey("key_file", "File with the key that signs each message (HMAC-SHA256).", func(c *Config) *Teller { return &c.Notify.Webhook })),
		tellerSection("mqtt", "A broker for MQTT 3.1.1.", `"mqtt://127.0.0.1:1883"`, func(c *Config) *Teller { return &c.Notify.MQTT },
			Key{Name: "topic", Kind: Text, Default: `""`, Doc: "What all topics begin with; empty makes one from the machine's name.",
				field: func(c *Config, _ int) any { return &c.Notify.MQTT.Topic }}),
	}
	s[0].Group = notifyGroup
	return s
}

func tellerSection(name, doc, example string, of func(c *Config) *Teller, more ...Key) Section {
	return Section{Name: "notify." + name, Doc: doc, Keys: append([]Key{
		{Name: "url", Kind: Text, Example: example, Doc: "Its address; without one it is off.", field: func(c *Config, _ int) any { return &of(c).URL }},
		{Name: "min_level", Kind: Choice, Choices: []string{"advice", "warning", "act"}, Default: `"warning"`, Doc: "Lowest level that is told.",
			field: func(c *Config, _ int) any { return &of(c).MinLevel }},
		{Name: "user", Kind: Text, Default: `""`, Doc: "Name to log in with; empty for none.", field: func(c *Config, _ int) any { return &of(c).User }},
		{Name: "password_file", Kind: Text, Default: `""`, Doc: "File with the password.", field: func(c *Config, _ int) any { return &of(c).PasswordFile }},
	}, more...)}
}

func secretKey(name, doc string, of func(c *Config) *Teller) Key {
	return Key{Name: name, Kind: Text, Default: `""`, Doc: doc, field: func(c *Config, _ int) any { return &of(c).SecretFile }}
}
