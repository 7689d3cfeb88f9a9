package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"math/big"
	"path/filepath"
	"strings"
	"unicode"

	"golang.org/x/crypto/argon2"

	"headroom/daemon/wholefile"
)

// The cost of a guess. Source: RFC 9106 for the function; the least memory and
// passes that the OWASP cheat sheet on password storage gives for argon2id
// (19 MiB, 2 passes, 1 lane), from memory. A small board bears one at a time.
const (
	passes    = 2
	memoryKiB = 19 * 1024
	lanes     = 1
	saltLen   = 16
	keyLen    = 32
)

// Digits of a PIN: few enough for wet gloves, and with the limiter's pace
// years of guessing.
const Digits = 8

// pin is what is kept of a PIN; the zero value is none.
type pin struct{ salt, key []byte }

func (p pin) set() bool { return len(p.key) > 0 }

// id names a PIN without telling anything of it: its sessions carry it.
func (p pin) id() string { return base64.RawStdEncoding.EncodeToString(p.salt) }

func hash(digits string, salt []byte) []byte {
	return argon2.IDKey([]byte(digits), salt, passes, memoryKiB, lanes, keyLen)
}

// is compares in a time that doesn't depend on how much of it is right.
func (p pin) is(typed string) bool {
	return subtle.ConstantTimeCompare(hash(onlyDigits(typed), p.salt), p.key) == 1
}

// onlyDigits takes what people put between digits out of a PIN.
func onlyDigits(typed string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '-' || r == '.' {
			return -1
		}
		return r
	}, typed)
}

// Folder is where a device whose state is kept in that folder has its PIN.
func Folder(state string) string { return filepath.Join(state, "access") }

// NewPIN draws a new PIN for the device with that Folder, and returns it
// as people read it. The old one and its sessions are void. It is shown this
// once: only its hash is kept.
func NewPIN(dir string) (string, error) {
	n, err := rand.Int(rand.Reader, new(big.Int).Exp(big.NewInt(10), big.NewInt(Digits), nil))
	if err != nil {
		return "", fmt.Errorf("cannot draw a PIN: %w", err)
	}
	digits := fmt.Sprintf("%0*d", Digits, n)
	salt := make([]byte, saltLen)
	_, _ = rand.Read(salt) // never fails, by its documentation
	text := pin{salt, hash(digits, salt)}.String() + "\n"
	if err := wholefile.WriteSecret(filepath.Join(dir, pinFile), []byte(text)); err != nil {
		return "", fmt.Errorf("cannot keep the new PIN, so the old one stays: %w", err)
	}
	return digits[:Digits/2] + " " + digits[Digits/2:], nil
}

var costs = fmt.Sprintf("m=%d,t=%d,p=%d", memoryKiB, passes, lanes)

// String is the usual text form of an argon2id hash.
func (p pin) String() string {
	enc := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$%s$%s$%s", argon2.Version, costs, enc.EncodeToString(p.salt), enc.EncodeToString(p.key))
}

// parsePIN reads what String wrote. Other costs are refused rather than obeyed:
// a file from elsewhere could ask for all of the board's memory.
func parsePIN(text string) (pin, error) {
	parts := strings.Split(strings.TrimSpace(text), "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return pin{}, errors.New("it holds no argon2id hash")
	}
	if want := fmt.Sprintf("v=%d", argon2.Version); parts[2] != want || parts[3] != costs {
		return pin{}, fmt.Errorf("its hash was made with %s %s, and this version wants %s %s", parts[2], parts[3], want, costs)
	}
	enc := base64.RawStdEncoding
	salt, err1 := enc.DecodeString(parts[4])
	key, err2 := enc.DecodeString(parts[5])
	if err := errors.Join(err1, err2); err != nil {
		return pin{}, fmt.Errorf("its hash is damaged: %w", err)
	}
	if len(salt) != saltLen || len(key) != keyLen {
		return pin{}, errors.New("its hash is cut off")
	}
	return pin{salt, key}, nil
}
