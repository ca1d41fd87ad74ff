package service

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
)

// Limits of one request.
const (
	maxForm   = 2 << 20  // bytes of an ordinary form
	maxUpload = 64 << 20 // bytes of an upload of sheets
)

// policy lets a page use what the service itself serves, and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard stands before every page.
func (s *Server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	deny := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, newProblem(http.StatusForbidden, "The request came from another site and was refused. Open the page here and send the form from it.", nil))
	})
	cross.SetDenyHandler(deny)
	scheme := "http://"
	if s.cfg.TLS {
		scheme = "https://"
	}
	inner := cross.Handler(s.entered(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secure(w.Header())
		if !slices.Contains(s.hosts, strings.ToLower(r.Host)) {
			http.Error(w, "This service answers only under its own address: "+s.hosts[0], http.StatusMisdirectedRequest)
			return
		}
		switch r.Method {
		case http.MethodGet, http.MethodHead, http.MethodPost:
		default:
			w.Header().Set("Allow", "GET, HEAD, POST")
			http.Error(w, "Only GET and POST are known here.", http.StatusMethodNotAllowed)
			return
		}
		// The library compares host and port; another scheme is another site (RFC 6454).
		if o := r.Header.Get("Origin"); r.Method == http.MethodPost && o != "" && o != "null" && !strings.EqualFold(o, scheme+r.Host) {
			deny.ServeHTTP(w, r)
			return
		}
		if strings.ContainsRune(r.URL.Path, 0) {
			s.fail(w, r, notFound("There is no such page."))
			return
		}
		limit := int64(maxForm)
		if r.URL.Path == uploadPath || r.URL.Path == spreadsheetsPath || strings.HasPrefix(r.URL.Path, spreadsheetsPath+"/") && strings.HasSuffix(r.URL.Path, "/files") {
			limit = maxUpload
		}
		if r.ContentLength > limit {
			s.fail(w, r, tooLarge(limit))
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, limit)
		inner.ServeHTTP(w, r)
	})
}

func tooLarge(limit int64) *problem {
	return newProblem(http.StatusRequestEntityTooLarge, fmt.Sprintf("That is more than the %d MiB taken at once. Load large sheets with the command line.", limit>>20), nil)
}

// secure sets the headers that hold for every answer.
func secure(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Cache-Control", "no-store")
}

// hostList are the exact Host values a server on an address answers to: the
// given names with the port, and the loopback names where it listens there.
func hostList(addr string, names []string) ([]string, error) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("the address %q is not of the form host:port", addr)
	}
	var out []string
	add := func(name string) {
		name = strings.ToLower(name)
		out = append(out, net.JoinHostPort(name, port))
		if port == "80" || port == "443" {
			out = append(out, name)
		}
	}
	if isLoopback(host) {
		for _, n := range []string{"127.0.0.1", "localhost", "::1"} {
			add(n)
		}
	} else if ip := net.ParseIP(host); ip == nil || !ip.IsUnspecified() {
		add(host)
	}
	for _, n := range names {
		add(n)
	}
	if len(out) == 0 {
		return nil, errors.New("listening on every address needs the names the service is reached under")
	}
	return out, nil
}

func isLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}
