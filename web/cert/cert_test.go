package cert

import (
	"crypto/x509"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func fixed() time.Time { return time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC) }

func verify(t *testing.T, a *Authority, name string) error {
	t.Helper()
	pair, err := a.server([]string{"192.168.7.20", "bench.local", "localhost"})
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.root)
	_, err = pair.Leaf.Verify(x509.VerifyOptions{DNSName: name, Roots: roots, CurrentTime: fixed().Add(time.Minute)})
	return err
}

func TestServerCertificateIsGoodForThisMachineOnly(t *testing.T) {
	a, err := Open(t.TempDir(), fixed)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"192.168.7.20", "bench.local", "localhost"} {
		if err := verify(t, a, name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if verify(t, a, "192.168.7.21") == nil {
		t.Error("good for another machine")
	}
}

// RFC 5280 4.2.1.10: a name outside the permitted trees must not verify.
func TestAuthorityCannotVouchForTheInternet(t *testing.T) {
	a, err := Open(t.TempDir(), fixed)
	if err != nil {
		t.Fatal(err)
	}
	a.root.PermittedDNSDomains = nil // issue would refuse; a thief of the key would not
	stolen, err := a.issue([]string{"localhost"})
	if err != nil {
		t.Fatal(err)
	}
	stolen.Leaf.DNSNames = []string{"bank.example"}
	roots := x509.NewCertPool()
	root, err := x509.ParseCertificate(a.DER())
	if err != nil {
		t.Fatal(err)
	}
	if len(root.PermittedDNSDomains) == 0 || len(root.PermittedIPRanges) == 0 || !root.PermittedDNSDomainsCritical {
		t.Fatalf("the authority is not confined: %v %v", root.PermittedDNSDomains, root.PermittedIPRanges)
	}
	roots.AddCert(root)
	if _, err := stolen.Leaf.Verify(x509.VerifyOptions{DNSName: "bank.example", Roots: roots, CurrentTime: fixed()}); err == nil {
		t.Error("the authority vouches for a name of the internet")
	}
}

func TestAuthorityIsKept(t *testing.T) {
	dir := t.TempDir()
	a, err := Open(dir, fixed)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Open(dir, fixed)
	if err != nil {
		t.Fatal(err)
	}
	if a.Fingerprint() != b.Fingerprint() {
		t.Error("another authority after opening it again: every phone would have to install it anew")
	}
	info, err := os.Stat(filepath.Join(dir, "workshop-ca.key"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("key file %v %v, want mode 0600", info, err)
	}
}

func TestDamagedAuthorityIsNamed(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "workshop-ca.pem"), []byte("torn"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir, fixed); err == nil {
		t.Error("a damaged certificate was taken")
	}
}
