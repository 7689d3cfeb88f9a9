// Package localtls makes the device's own certificate, for those who want the
// local pages encrypted where no authority can vouch for a trailer. It owns
// the key and the certificate below one folder: makes them once, and again
// before they run out or when the device has another name. It refuses to claim
// more than it gives: nobody but the owner vouches for the certificate, who
// compares its fingerprint once on each phone.
package localtls

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"headroom/daemon/wholefile"
)

const (
	keyFile  = "tls-key.pem"
	certFile = "tls-cert.pem"
	// lasts is below the 825 days beyond which some phones refuse even a
	// certificate that the owner trusts (a fact of the platforms, from memory).
	lasts = 820 * 24 * time.Hour
	// renew is how long before its end a new one is made.
	renew = 60 * 24 * time.Hour
)

// builtAfter stands in for a clock that was never set: boards without a battery
// start in 1970, and a certificate from then would have run out.
var builtAfter = time.Date(2026, time.November, 1, 0, 0, 0, 0, time.UTC)

// Local returns the device's own certificate below dir for the given host names
// and addresses, and makes it where there is none, where a host name is new, or
// where it soon runs out. A key that can't be kept is an error: a new one at
// each start would be a new stranger to every phone.
func Local(dir string, names []string, now time.Time) (tls.Certificate, error) {
	if now.Before(builtAfter) {
		now = builtAfter
	}
	names = slices.Compact(slices.Sorted(slices.Values(names)))
	if len(names) == 0 {
		return tls.Certificate{}, errors.New("cannot make a certificate for no name")
	}
	if cert, err := load(dir); err == nil && serves(cert.Leaf, names, now) {
		return cert, nil
	}
	if err := create(dir, names, now); err != nil {
		return tls.Certificate{}, fmt.Errorf("cannot make the device's certificate: %w", err)
	}
	return load(dir)
}

func load(dir string) (tls.Certificate, error) {
	cert, err := tls.LoadX509KeyPair(filepath.Join(dir, certFile), filepath.Join(dir, keyFile))
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("cannot load the device's certificate: %w", err)
	}
	return cert, nil
}

// serves reports whether a certificate will do. An address that isn't in it is
// no reason for a new one: addresses come and go with each site's net, and each
// new certificate is a stranger to every phone that trusted the old one.
func serves(leaf *x509.Certificate, names []string, now time.Time) bool {
	if now.Before(leaf.NotBefore) || now.Add(renew).After(leaf.NotAfter) {
		return false
	}
	return !slices.ContainsFunc(names, func(n string) bool { return net.ParseIP(n) == nil && leaf.VerifyHostname(n) != nil })
}

// create writes a key and its certificate. The key comes first: a cut between
// the two leaves a pair that doesn't fit, which the next start makes anew.
func create(dir string, names []string, now time.Time) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return fmt.Errorf("no key: %w", err)
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return fmt.Errorf("no serial number: %w", err)
	}
	leaf := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: names[0], Organization: []string{"made by this device"}},
		NotBefore: now.Add(-24 * time.Hour), NotAfter: now.Add(lasts), BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, n := range names {
		if ip := net.ParseIP(n); ip != nil {
			leaf.IPAddresses = append(leaf.IPAddresses, ip)
		} else {
			leaf.DNSNames = append(leaf.DNSNames, n)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, leaf, leaf, key.Public(), key)
	if err != nil {
		return fmt.Errorf("cannot sign it: %w", err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return fmt.Errorf("cannot write its key: %w", err)
	}
	block := func(kind string, b []byte) []byte { return pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: b}) }
	if err := wholefile.WriteSecret(filepath.Join(dir, keyFile), block("PRIVATE KEY", secret)); err != nil {
		return err
	}
	return wholefile.Write(filepath.Join(dir, certFile), block("CERTIFICATE", der))
}

// Fingerprint is the SHA-256 of a certificate as browsers show it.
func Fingerprint(c tls.Certificate) string {
	sum := sha256.Sum256(c.Certificate[0])
	return strings.ReplaceAll(strings.ToUpper(fmt.Sprintf("% x", sum)), " ", ":")
}

// Names are the host names and addresses that this machine answers to now:
// localhost, its own name with and without .local, and every address.
func Names() ([]string, error) {
	names := []string{"localhost", "127.0.0.1", "::1"}
	if h, err := os.Hostname(); err == nil && h != "" {
		names = append(names, h, h+".local")
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil, fmt.Errorf("cannot tell this machine's addresses: %w", err)
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLinkLocalUnicast() {
			names = append(names, n.IP.String())
		}
	}
	return names, nil
}
