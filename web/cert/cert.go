// Package cert makes the workshop's own certificates, because phones give
// microphone and motion to HTTPS only.
//
// [Open] keeps an authority in a folder: it is made once, its key stays in the
// folder, and it can only vouch for private addresses and local names, so that
// installing it on a phone opens no door to the rest of the internet. The
// server's own certificate is made afresh whenever the machine's addresses
// change or it nears its end.
package cert

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	rootYears = 10
	leafDays  = 200 // phones refuse server certificates of more than 398 days
	renewDays = 30
)

// Authority is the workshop's certificate authority.
type Authority struct {
	root   *x509.Certificate
	key    crypto.Signer
	now    func() time.Time
	mu     sync.Mutex
	leaf   *tls.Certificate
	leafOf []string
}

// Open reads the authority from a folder, or makes it there.
func Open(dir string, now func() time.Time) (*Authority, error) {
	certFile, keyFile := filepath.Join(dir, "workshop-ca.pem"), filepath.Join(dir, "workshop-ca.key")
	a, err := read(certFile, keyFile)
	if errors.Is(err, fs.ErrNotExist) {
		a, err = create(certFile, keyFile, now())
	}
	if err != nil {
		return nil, fmt.Errorf("workshop certificate: %w", err)
	}
	if now().After(a.root.NotAfter) {
		return nil, fmt.Errorf("workshop certificate: it expired on %s: delete %s and %s, start again, and install the new one on the phones",
			a.root.NotAfter.Format(time.DateOnly), filepath.Base(certFile), filepath.Base(keyFile))
	}
	a.now = now
	return a, nil
}

func read(certFile, keyFile string) (*Authority, error) {
	certDER, err := readPEM(certFile, "CERTIFICATE")
	if err != nil {
		return nil, err
	}
	root, err := x509.ParseCertificate(certDER)
	if err != nil {
		return nil, fmt.Errorf("%s is damaged: %w", filepath.Base(certFile), err)
	}
	keyDER, err := readPEM(keyFile, "PRIVATE KEY")
	if err != nil {
		return nil, err
	}
	key, err := x509.ParsePKCS8PrivateKey(keyDER)
	if err != nil {
		return nil, fmt.Errorf("%s is damaged: %w", filepath.Base(keyFile), err)
	}
	signer, ok := key.(crypto.Signer)
	if !ok {
		return nil, fmt.Errorf("%s holds no key that can sign", filepath.Base(keyFile))
	}
	return &Authority{root: root, key: signer}, nil
}

func readPEM(file, kind string) ([]byte, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	block, _ := pem.Decode(data)
	if block == nil || block.Type != kind {
		return nil, fmt.Errorf("%s is damaged: it holds no %s", filepath.Base(file), strings.ToLower(kind))
	}
	return block.Bytes, nil
}

func create(certFile, keyFile string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	host, _ := os.Hostname()
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: "Halforder workshop " + host, Organization: []string{"Halforder"}},
		NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(rootYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         localNames(),
		PermittedIPRanges:           privateRanges(),
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	root, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	if err := writePEM(keyFile, "PRIVATE KEY", keyDER); err != nil {
		return nil, err
	}
	return &Authority{root: root, key: key}, writePEM(certFile, "CERTIFICATE", der)
}

func writePEM(file, kind string, der []byte) error {
	return os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600)
}

func serial() *big.Int {
	n, _ := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	return n
}

// DER is the authority's certificate, to be installed on phones.
func (a *Authority) DER() []byte { return a.root.Raw }

// Fingerprint names the certificate, to compare on phone and bench.
func (a *Authority) Fingerprint() string {
	h := crypto.SHA256.New()
	h.Write(a.root.Raw)
	var parts []string
	for _, b := range h.Sum(nil)[:10] {
		parts = append(parts, fmt.Sprintf("%02X", b))
	}
	return strings.Join(parts, " ")
}

// TLS is a server configuration whose certificate follows the names and
// addresses of this machine.
func (a *Authority) TLS(names func() []string) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
		return a.server(names())
	}}
}

func (a *Authority) server(names []string) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.leaf != nil && slices.Equal(a.leafOf, names) && a.now().Before(a.leaf.Leaf.NotAfter.AddDate(0, 0, -renewDays)) {
		return a.leaf, nil
	}
	leaf, err := a.issue(names)
	if err != nil {
		return nil, fmt.Errorf("workshop certificate: %w", err)
	}
	a.leaf, a.leafOf = leaf, slices.Clone(names)
	return leaf, nil
}

func (a *Authority) issue(names []string) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: "Halforder bench"},
		NotBefore: a.now().Add(-time.Hour), NotAfter: a.now().AddDate(0, 0, leafDays),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, name := range names {
		switch ip := net.ParseIP(name); {
		case ip == nil && nameAllowed(name):
			template.DNSNames = append(template.DNSNames, name)
		case ip != nil && Private(ip):
			template.IPAddresses = append(template.IPAddresses, ip)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.root, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der, a.root.Raw}, PrivateKey: key, Leaf: leaf}, err
}
