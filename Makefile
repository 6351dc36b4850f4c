# Two commands do everything on a fresh machine: make run, make test.

GO      ?= go
UI      := web/ui
APT_GET := apt-get install -y -qq --no-install-recommends

.PHONY: build run test fuzz ui bench tools clean

# The page's assets are built where Node is present; without it the binary says
# how to build them and everything else works.
build: ui
	@mkdir -p bin
	$(GO) build -o bin/ocarina ./cmd/ocarina

ui:
	@if command -v npm >/dev/null; then \
	  if [ ! -d $(UI)/node_modules ] || [ $(UI)/package-lock.json -nt $(UI)/node_modules/.installed ]; then \
	    (cd $(UI) && npm ci --no-audit --no-fund --loglevel=error) && touch $(UI)/node_modules/.installed; fi && \
	  (cd $(UI) && npm run --silent build); \
	else echo "npm is missing: building without the page"; fi

# The explanation of one demo entry, a plot of it, and the page on the demo.
run: build
	@mkdir -p out
	./bin/ocarina explain demo/dunlin.hcl --plot out/dunlin.svg
	./bin/ocarina serve demo --open

test: tools ui
	OCARINA_TEST_ALL=1 $(GO) vet ./...
	OCARINA_TEST_ALL=1 $(GO) test ./...

# Programs the tests compare with or drive.
tools:
	@missing=""; \
	for p in ngspice chromium pdftotext; do command -v $$p >/dev/null || missing="$$missing $$p"; done; \
	/usr/bin/python3 -c "import numpy, scipy" 2>/dev/null || missing="$$missing scipy"; \
	command -v node >/dev/null || missing="$$missing node"; \
	if [ -n "$$missing" ]; then \
	  echo "installing:$$missing"; \
	  list=$$(echo $$missing | sed -e 's/pdftotext/poppler-utils/' -e 's/scipy/python3-numpy python3-scipy/' -e 's/node/nodejs npm/'); \
	  (apt-get update -qq && $(APT_GET) $$list) || { echo "install by hand: $$list"; exit 1; }; \
	fi

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./response ./acoustic ./fit/... ./tone/... ./sweep

# Fuzzing beyond the seeds, a minute for each target.
fuzz:
	@for d in $$($(GO) list -f '{{.Dir}}' ./...); do \
	  for f in $$(grep -hoE '^func Fuzz[A-Za-z0-9_]+' $$d/*_test.go 2>/dev/null | sed 's/func //'); do \
	    echo "$$d $$f"; (cd $$d && $(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime 60s .) || exit 1; done; done

clean:
	rm -rf bin out $(UI)/node_modules
