package notify

import (
	"log/slog"
	"strings"
)

// Secret is a password, token or key. However it is printed, logged or encoded
// it shows a placeholder; only this package reads it.
type Secret string

const placeholder = "[secret]"

// String returns a placeholder.
func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return placeholder
}

// GoString returns a placeholder.
func (s Secret) GoString() string { return s.String() }

// LogValue returns a placeholder.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText returns a placeholder, so that a config that is printed back
// doesn't give it away.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText takes the secret as it is written in a config.
func (s *Secret) UnmarshalText(text []byte) error {
	*s = Secret(text)
	return nil
}

// mask replaces secrets in a text: the words of servers and libraries may
// repeat what was sent to them.
func mask(text string, secrets ...string) string {
	for _, s := range secrets {
		if len(s) > 1 { // an empty secret, or the path "/", is none
			text = strings.ReplaceAll(text, s, placeholder)
		}
	}
	return text
}
