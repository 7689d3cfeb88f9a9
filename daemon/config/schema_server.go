package config

// How the pages are served.
const (
	// ReadOpen lets everybody on the net read, ReadPIN only who gave the PIN.
	ReadOpen, ReadPIN = "open", "pin"
	// TLSOff serves plain http, TLSLocal encrypts with a certificate that the
	// device makes, TLSFiles with the owner's own.
	TLSOff, TLSLocal, TLSFiles = "off", "local", "files"
)

// Server is who may reach the pages and how.
type Server struct {
	// Reading is ReadOpen or ReadPIN.
	Reading string
	// Hosts are further names of this machine.
	Hosts []string
	// TLS is one of the constants above; Cert and Key are files for TLSFiles.
	TLS, Cert, Key string
}

func serverSection() Section {
	return Section{Name: "server", Doc: "The dashboard. Changes always need the device's PIN (headroom pin new).", Keys: []Key{
		{Name: "listen", Kind: Address, Default: `"127.0.0.1:8080"`, Why: "this computer only; \":8080\" for every phone on the local net",
			Doc: "Host and port.", field: func(c *Config, _ int) any { return &c.Listen }},
		{Name: "units", Kind: Choice, Choices: []string{"US", "SI"}, Default: `"US"`,
			Doc: "Units that people read. This file may use either.", field: unitsField},
		{Name: "reading", Kind: Choice, Choices: []string{ReadOpen, ReadPIN}, Default: `"open"`, Why: "a warning helps whoever stands beside the machine",
			Doc: "Who may read: everybody who reaches the address, or only who gave the PIN.", field: func(c *Config, _ int) any { return &c.Server.Reading }},
		{Name: "hosts", Kind: Texts, Default: `[]`,
			Doc: "Further names that pages may be asked for by, besides addresses, localhost and names ending in .local.", field: func(c *Config, _ int) any { return func(names []string) { c.Server.Hosts = names } }},
		{Name: "tls", Kind: Choice, Choices: []string{TLSOff, TLSLocal, TLSFiles}, Default: `"off"`, Why: "browsers warn of a certificate that nobody vouches for",
			Doc: "Encrypt the pages: with a certificate that the device makes itself, or with the files below.", field: func(c *Config, _ int) any { return &c.Server.TLS }},
		{Name: "tls_cert", Kind: Text, Default: `""`,
			Doc: "File with the certificate, for tls = \"files\".", field: func(c *Config, _ int) any { return &c.Server.Cert }},
		{Name: "tls_key", Kind: Text, Default: `""`,
			Doc: "File with its key.", field: func(c *Config, _ int) any { return &c.Server.Key }},
	}}
}
