package cert

import (
	"net"
	"os"
	"slices"
	"strings"
)

// privateRanges are the addresses of workshop networks and of this machine.
// Source: RFC 1918, RFC 6598, RFC 3927, RFC 4193, RFC 4291.
func privateRanges() []*net.IPNet {
	var out []*net.IPNet
	for _, text := range []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"} {
		_, block, err := net.ParseCIDR(text)
		if err != nil {
			panic(err)
		}
		out = append(out, block)
	}
	return out
}

// Private reports whether an address can be that of a machine in the workshop.
func Private(ip net.IP) bool {
	return slices.ContainsFunc(privateRanges(), func(block *net.IPNet) bool { return block.Contains(ip) })
}

// localNames are the domains that exist in a local network only.
func localNames() []string {
	out := []string{"localhost", "local", "lan", "home.arpa", "internal"}
	if host, err := os.Hostname(); err == nil && !strings.Contains(host, ".") && host != "" {
		out = append(out, strings.ToLower(host))
	}
	return out
}

func nameAllowed(name string) bool {
	return slices.ContainsFunc(localNames(), func(domain string) bool {
		return name == domain || strings.HasSuffix(name, "."+domain)
	})
}

// LocalNames lists the names and private addresses this machine answers to,
// the address phones should use first.
func LocalNames() []string {
	var v4, v6 []string
	addresses, _ := net.InterfaceAddrs()
	for _, a := range addresses {
		block, ok := a.(*net.IPNet)
		switch {
		case !ok || block.IP.IsLoopback() || !Private(block.IP):
		case block.IP.To4() != nil && block.IP.IsLinkLocalUnicast():
			v6 = append(v6, block.IP.String())
		case block.IP.To4() != nil:
			v4 = append(v4, block.IP.String())
		case !block.IP.IsLinkLocalUnicast():
			v6 = append(v6, block.IP.String())
		}
	}
	out := append(v4, v6...)
	if host, err := os.Hostname(); err == nil && host != "" {
		host = strings.ToLower(host)
		out = append(out, host)
		if !strings.Contains(host, ".") {
			out = append(out, host+".local")
		}
	}
	return append(out, "localhost", "127.0.0.1", "::1")
}
