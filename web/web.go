// Package web serves the bench page of a folder of designs: its HTTP API, the
// page itself, and printed reports.
//
// The folder is the only one it can reach, and unless told otherwise only this
// machine can reach it.
package web

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"runtime"
	"syscall"
	"time"
)

// Options say what to serve and to whom.
type Options struct {
	Dir  string // folder of design files
	File string // the design to show first; empty: the first of the folder
	Addr string // host:port; empty: 127.0.0.1:8420, or a free port where that is taken. Port 0 takes a free one

	// Token is what a visitor has to know. One is made where it is empty and
	// Addr is not on the loopback.
	Token string

	// Hosts are further names the page may be called by, besides the address
	// itself and localhost.
	Hosts []string

	Open bool      // open the page in the system's browser
	Log  io.Writer // where the address is told; nil: nowhere

	// Ready, if not nil, is called with the address to open once it is listening.
	Ready func(url string)
}

const defaultAddr = "127.0.0.1:8420"

// Serve serves until the context ends. It returns nil then, and an error if the
// folder cannot be opened or the address not be listened on.
func Serve(ctx context.Context, opt Options) error {
	anywhere := opt.Addr == "" // then any free port will do
	if anywhere {
		opt.Addr = defaultAddr
	}
	host, _, err := net.SplitHostPort(opt.Addr)
	if err != nil {
		return fmt.Errorf("address %q: wanted host:port, such as %s", opt.Addr, defaultAddr)
	}
	if !loopback(host) && opt.Token == "" {
		opt.Token = newToken()
	}
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", opt.Addr)
	if anywhere && errors.Is(err, syscall.EADDRINUSE) {
		listener, err = new(net.ListenConfig).Listen(ctx, "tcp", net.JoinHostPort(host, "0"))
	}
	if err != nil {
		return err
	}
	opt.Addr = listener.Addr().String()
	handler, err := Handler(opt)
	if err != nil {
		listener.Close()
		return err
	}
	defer handler.Close()

	url := pageAddress(opt)
	if opt.Log != nil {
		fmt.Fprintf(opt.Log, "The bench is at %s  (Ctrl-C ends it)\n", url)
		if !loopback(host) {
			fmt.Fprintln(opt.Log, "Whoever has this address with its token can read and change the designs of the folder; it travels unencrypted.")
		}
	}
	if opt.Ready != nil {
		opt.Ready(url)
	}
	if opt.Open {
		openBrowser(url)
	}

	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       60 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	if err := server.Shutdown(grace); err != nil {
		server.Close()
	}
	if err := <-ended; err != nil && !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

func pageAddress(opt Options) string {
	host, port, _ := net.SplitHostPort(opt.Addr)
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	url := "http://" + net.JoinHostPort(host, port) + "/"
	if opt.Token != "" {
		url += "?token=" + opt.Token
	}
	return url
}

func newToken() string {
	b := make([]byte, 16)
	rand.Read(b)
	return hex.EncodeToString(b)
}

func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// openBrowser asks the system to show an address; nobody is told if it cannot,
// since the address stands in the terminal anyway.
func openBrowser(url string) {
	var command *exec.Cmd
	switch runtime.GOOS {
	case "darwin":
		command = exec.Command("open", url)
	case "windows":
		command = exec.Command("rundll32", "url.dll,FileProtocolHandler", url)
	default:
		command = exec.Command("xdg-open", url)
	}
	if command.Start() == nil {
		go command.Wait()
	}
}

// Bench is the page and its API over one folder.
type Bench struct {
	http.Handler
	api *api
}

// Close gives the folder back.
func (b *Bench) Close() error { return b.api.folder.root.Close() }

// Handler returns the page and its API, ready for a server of one's own.
// Addr, Token and Hosts of the options are what requests are held against.
func Handler(opt Options) (*Bench, error) {
	if opt.Dir == "" {
		opt.Dir = "."
	}
	root, err := os.OpenRoot(opt.Dir)
	if err != nil {
		return nil, err
	}
	if opt.Addr == "" {
		opt.Addr = defaultAddr
	}
	f := &folder{root: root, path: opt.Dir, first: opt.File}
	mux := http.NewServeMux()
	a := newAPI(mux, f)
	servePage(mux)
	return &Bench{Handler: newGuard(opt, mux), api: a}, nil
}
