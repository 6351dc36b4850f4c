package web

import (
	"context"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func ask(h http.Handler, method, url string, body io.Reader, headers map[string]string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, url, body)
	for k, v := range headers {
		if k == "Host" {
			r.Host = v
			continue
		}
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

const here = "http://127.0.0.1:8420"

func TestForeignNamesAndSitesAreRefused(t *testing.T) {
	b, _ := bench(t, map[string]string{"a.hcl": sample(t, "dunlin.hcl")})
	for _, c := range []struct {
		name, method, path string
		headers            map[string]string
		want               int
	}{
		{"own address", "GET", "/api/designs", nil, 200},
		{"localhost", "GET", "/api/designs", map[string]string{"Host": "localhost:8420"}, 200},
		{"a name that resolves here", "GET", "/api/designs", map[string]string{"Host": "evil.example:8420"}, 421},
		{"another port", "GET", "/api/designs", map[string]string{"Host": "127.0.0.1:80"}, 421},
		{"no name", "GET", "/api/designs", map[string]string{"Host": ""}, 421},
		{"another site's read", "GET", "/api/designs", map[string]string{"Origin": "http://evil.example"}, 403},
		{"another local port's read", "GET", "/api/designs", map[string]string{"Origin": "http://127.0.0.1:9999"}, 403},
		{"a page without origin", "POST", "/api/bench", map[string]string{"Origin": "null"}, 403},
		{"another site's write", "PUT", "/api/designs/a.hcl", map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"a sister site's write", "PUT", "/api/designs/a.hcl", map[string]string{"Sec-Fetch-Site": "same-site"}, 403},
		{"own write, empty", "PUT", "/api/designs/a.hcl", map[string]string{"Origin": here, "Sec-Fetch-Site": "same-origin", "Content-Type": "application/json"}, 400},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := ask(b, c.method, here+c.path, nil, c.headers)
			if w.Code != c.want {
				t.Errorf("answered %d, want %d: %s", w.Code, c.want, w.Body)
			}
		})
	}
}

func TestEveryAnswerCarriesThePolicy(t *testing.T) {
	b, _ := bench(t, nil)
	for _, path := range []string{"/", "/nothing", "/api/designs", "/api/openapi.json", "/api/designs/none.hcl"} {
		w := ask(b, "GET", here+path, nil, nil)
		policy := w.Header().Get("Content-Security-Policy")
		if !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") {
			t.Errorf("%s: policy %q", path, policy)
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s may be sniffed", path)
		}
	}
}

func TestTokenIsAskedForBeyondTheMachine(t *testing.T) {
	b, err := Handler(Options{Dir: t.TempDir(), Addr: "192.0.2.7:8420", Token: "secret"})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	const there = "http://192.0.2.7:8420"
	if w := ask(b, "GET", there+"/api/designs", nil, nil); w.Code != 401 {
		t.Errorf("without token: %d", w.Code)
	}
	if w := ask(b, "GET", there+"/?token=wrong", nil, nil); w.Code != 401 {
		t.Errorf("wrong token: %d", w.Code)
	}
	w := ask(b, "GET", there+"/?token=secret", nil, nil)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/" {
		t.Fatalf("right token: %d to %q", w.Code, w.Header().Get("Location"))
	}
	cookie := w.Result().Cookies()[0]
	if !cookie.HttpOnly || cookie.SameSite != http.SameSiteStrictMode {
		t.Errorf("cookie %+v", cookie)
	}
	if w := ask(b, "GET", there+"/api/designs", nil, map[string]string{"Cookie": cookie.Name + "=" + cookie.Value}); w.Code != 200 {
		t.Errorf("with cookie: %d", w.Code)
	}
	if w := ask(b, "GET", there+"/api/designs", nil, map[string]string{"Authorization": "Bearer secret"}); w.Code != 200 {
		t.Errorf("with header: %d", w.Code)
	}
	if w := ask(b, "GET", there+"/api/designs", nil, map[string]string{"Authorization": "Bearer "}); w.Code != 401 {
		t.Errorf("with empty header: %d", w.Code)
	}
}

// Serve itself makes a token where the address is not the machine's own.
func TestServeMakesAToken(t *testing.T) {
	for _, c := range []struct {
		addr string
		want bool
	}{{"127.0.0.1:0", false}, {"localhost:0", false}, {"0.0.0.0:0", true}} {
		ctx, cancel := context.WithCancel(context.Background())
		ready := make(chan string, 1)
		ended := make(chan error, 1)
		go func() {
			ended <- Serve(ctx, Options{Dir: t.TempDir(), Addr: c.addr, Ready: func(url string) { ready <- url }})
		}()
		select {
		case url := <-ready:
			if strings.Contains(url, "?token=") != c.want {
				t.Errorf("%s: opens %s", c.addr, url)
			}
			answer, err := http.Get(url)
			if err != nil {
				t.Fatal(err)
			}
			answer.Body.Close()
			bare, _, _ := strings.Cut(url, "?")
			answer, err = http.Get(bare + "api/designs")
			if err != nil {
				t.Fatal(err)
			}
			answer.Body.Close()
			if refused := answer.StatusCode == 401; refused != c.want {
				t.Errorf("%s without token: %s", c.addr, answer.Status)
			}
		case err := <-ended:
			t.Fatal(err)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("%s ended with %v", c.addr, err)
		}
	}
}

func TestTooMuchIsRefused(t *testing.T) {
	b, _ := bench(t, nil)
	big := strings.NewReader(`{"name":"a.hcl","text":"` + strings.Repeat("x", maxBody) + `"}`)
	if w := ask(b, "POST", here+"/api/bench", big, map[string]string{"Content-Type": "application/json"}); w.Code != 413 {
		t.Errorf("a body of known length: %d", w.Code)
	}
	unknown := io.MultiReader(strings.NewReader(`{"name":"a.hcl","text":"`), strings.NewReader(strings.Repeat("x", maxBody)), strings.NewReader(`"}`))
	if w := ask(b, "POST", here+"/api/bench", unknown, map[string]string{"Content-Type": "application/json"}); w.Code != 413 {
		t.Errorf("a body of unknown length: %d", w.Code)
	}
}

// A client that goes away in the middle of its request harms nobody else.
func TestClientVanishes(t *testing.T) {
	b, _ := bench(t, map[string]string{"a.hcl": sample(t, "dunlin.hcl")})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	handler, err := Handler(Options{Dir: t.TempDir(), Addr: listener.Addr().String()})
	if err != nil {
		t.Fatal(err)
	}
	defer handler.Close()
	server := &http.Server{Handler: handler, ReadTimeout: 2 * time.Second}
	go server.Serve(listener)
	defer server.Close()
	_ = b
	for _, part := range []string{
		"POST /api/bench HTTP/1.1\r\nHost: " + listener.Addr().String() + "\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n{\"name\":",
		"POST /api/match HTTP/1.1\r\nHost: " + listener.Addr().String() + "\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n{}",
		"GET / HTTP/1.1\r\nHost",
	} {
		connection, err := net.Dial("tcp", listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(connection, part)
		connection.Close()
	}
	answer, err := http.Get("http://" + listener.Addr().String() + "/api/designs")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != 200 {
		t.Errorf("afterwards: %s", answer.Status)
	}
}

// A fault in one handler is told and answered, not fatal.
func TestFaultIsSurvived(t *testing.T) {
	faults.SetOutput(io.Discard)
	broken := newGuard(Options{Addr: "127.0.0.1:8420"}, http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		panic("on purpose")
	}))
	if w := ask(broken, "GET", here+"/", nil, nil); w.Code != 500 || strings.Contains(w.Body.String(), "on purpose") {
		t.Errorf("answered %d %q", w.Code, w.Body)
	}
}

// Two benches on one machine: the second takes a free port unless told which.
func TestPortTaken(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	start := func(addr string) (string, error) {
		ready, ended := make(chan string, 1), make(chan error, 1)
		go func() {
			ended <- Serve(ctx, Options{Dir: t.TempDir(), Addr: addr, Ready: func(url string) { ready <- url }})
		}()
		select {
		case url := <-ready:
			return url, nil
		case err := <-ended:
			return "", err
		}
	}
	first, err := start("")
	if err != nil {
		t.Fatal(err)
	}
	second, err := start("")
	if err != nil || second == first {
		t.Errorf("the second opens %q, the first %q: %v", second, first, err)
	}
	taken := strings.TrimSuffix(strings.TrimPrefix(first, "http://"), "/")
	if url, err := start(taken); err == nil {
		t.Errorf("%s was given twice, the second time as %s", taken, url)
	}
}
