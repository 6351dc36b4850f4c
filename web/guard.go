package web

import (
	"crypto/subtle"
	"net"
	"net/http"
	"runtime/debug"
	"strings"
)

// What the page may load and do: its own files and nothing else.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; " +
	"connect-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

const (
	maxBody      = 3 << 20   // bytes of a request that carries a design
	maxUpload    = 64 << 20  // bytes of a sweep
	maxRecording = 256 << 20 // bytes of a recording
	tokenCookie  = "ocarina_token"
)

// larger are the requests that carry more than a design.
var larger = map[string]int64{
	"/api/sweep": maxUpload, "/api/match": maxUpload, "/api/beside": maxUpload,
	"/api/recording": maxRecording + maxBody,
}

// guard lets in only those who belong here.
type guard struct {
	hosts map[string]bool // as the Host header names them
	token string
	cross *http.CrossOriginProtection
	next  http.Handler
}

func newGuard(opt Options, next http.Handler) http.Handler {
	g := &guard{hosts: map[string]bool{}, token: opt.Token, cross: http.NewCrossOriginProtection(), next: next}
	host, port, err := net.SplitHostPort(opt.Addr)
	if err != nil {
		host, port = opt.Addr, "80"
	}
	names := append([]string{host, "localhost"}, opt.Hosts...)
	if host == "localhost" || loopback(host) {
		names = append(names, "127.0.0.1", "::1")
	}
	for _, name := range names {
		g.hosts[strings.ToLower(net.JoinHostPort(name, port))] = true
		if port == "80" {
			g.hosts[strings.ToLower(name)] = true
		}
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		g.addOwnAddresses(port)
	}
	return g
}

// addOwnAddresses lets the machine be called by any of its addresses.
func (g *guard) addOwnAddresses(port string) {
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return
	}
	for _, a := range addresses {
		if network, ok := a.(*net.IPNet); ok {
			g.hosts[strings.ToLower(net.JoinHostPort(network.IP.String(), port))] = true
		}
	}
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	header := w.Header()
	header.Set("Content-Security-Policy", contentPolicy)
	header.Set("X-Content-Type-Options", "nosniff")
	header.Set("Referrer-Policy", "no-referrer")
	header.Set("Cross-Origin-Opener-Policy", "same-origin")
	header.Set("Cross-Origin-Resource-Policy", "same-origin")
	header.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")

	// A foreign name that resolves to this machine is how a hostile page would
	// reach a local server.
	if !g.hosts[strings.ToLower(r.Host)] {
		refuse(w, http.StatusMisdirectedRequest, "This server does not go by that name.")
		return
	}
	if err := g.cross.Check(r); err != nil {
		refuse(w, http.StatusForbidden, "Another site may not write here.")
		return
	}
	if origin := r.Header.Get("Origin"); origin != "" && !g.own(origin) {
		refuse(w, http.StatusForbidden, "Another site may not call this server.")
		return
	}
	if g.token != "" && !g.knows(w, r) {
		return
	}
	limit := int64(maxBody)
	if more, found := larger[r.URL.Path]; found {
		limit = more
	}
	r.Body = http.MaxBytesReader(w, r.Body, limit)
	defer survive(w, r)
	g.next.ServeHTTP(w, r)
}

func (g *guard) own(origin string) bool {
	_, host, found := strings.Cut(origin, "://")
	return found && g.hosts[strings.ToLower(host)]
}

// knows checks the visitor's token: in the address of the first visit, then in
// a cookie, or in an Authorization header of a program.
func (g *guard) knows(w http.ResponseWriter, r *http.Request) bool {
	if given := r.URL.Query().Get("token"); given != "" && g.same(given) {
		http.SetCookie(w, &http.Cookie{
			Name: tokenCookie, Value: given, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		})
		if r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/api/") {
			// The token should not stay in the address bar and its history.
			rest := *r.URL
			query := rest.Query()
			query.Del("token")
			rest.RawQuery = query.Encode()
			http.Redirect(w, r, rest.RequestURI(), http.StatusSeeOther)
			return false
		}
		return true
	}
	if cookie, err := r.Cookie(tokenCookie); err == nil && g.same(cookie.Value) {
		return true
	}
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok && g.same(bearer) {
		return true
	}
	refuse(w, http.StatusUnauthorized, "Open the address with its token, as printed where the server was started.")
	return false
}

func (g *guard) same(given string) bool {
	return subtle.ConstantTimeCompare([]byte(given), []byte(g.token)) == 1
}

func refuse(w http.ResponseWriter, status int, why string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	w.Write([]byte(why + "\n"))
}

// survive keeps a fault of one request from ending the others, and says where
// it was.
func survive(w http.ResponseWriter, r *http.Request) {
	fault := recover()
	if fault == nil || fault == http.ErrAbortHandler {
		if fault != nil {
			panic(fault)
		}
		return
	}
	faults.Printf("%s %s: %v\n%s", r.Method, r.URL.Path, fault, debug.Stack())
	refuse(w, http.StatusInternalServerError, "Something here is broken; the terminal says where.")
}
