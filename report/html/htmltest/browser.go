// Package htmltest opens pages in a headless browser, for tests.
package htmltest

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"
)

// Browser is a headless Chromium driven over its debugging pipe: JSON messages
// that end with a zero byte.
type Browser struct {
	t       testing.TB
	w       io.Writer
	session string
	next    int

	mu      sync.Mutex
	answers map[int]chan message
	events  []message
	closed  chan struct{}
}

type message struct {
	ID     int             `json:"id,omitempty"`
	Method string          `json:"method,omitempty"`
	Params json.RawMessage `json:"params,omitempty"`
	Result json.RawMessage `json:"result,omitempty"`
	Error  *struct {
		Message string `json:"message"`
	} `json:"error,omitempty"`
	Session string `json:"sessionId,omitempty"`
}

// Open starts the browser on a file, and skips the test where there is none.
func Open(t testing.TB, file string, w, h int) *Browser {
	t.Helper()
	exe, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is absent")
	}
	toR, toW, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	fromR, fromW, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	// Not the test's own folder: its removal must not fail on files that
	// the browser's own processes still write.
	profile, err := os.MkdirTemp("", "skinstock-browser-")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--force-device-scale-factor=1",
		"--user-data-dir="+profile, "--remote-debugging-pipe", "about:blank")
	cmd.ExtraFiles = []*os.File{toR, fromW} // 3 is read, 4 is written
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	toR.Close()
	fromW.Close()
	b := &Browser{t: t, w: toW, answers: map[int]chan message{}, closed: make(chan struct{})}
	go b.listen(fromR)
	t.Cleanup(func() {
		b.session = ""
		_, _ = b.try("Browser.close", nil)
		toW.Close()
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		fromR.Close()
		_ = os.RemoveAll(profile)
	})
	var target struct{ TargetID string }
	b.Call("Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var attached struct{ SessionID string }
	b.Call("Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &attached)
	b.session = attached.SessionID
	for _, d := range []string{"Page", "Runtime", "Log", "Network"} {
		b.Call(d+".enable", nil, nil)
	}
	b.Window(w, h)
	b.Call("Page.navigate", map[string]any{"url": "file://" + file}, nil)
	b.Until("document.readyState === 'complete'")
	return b
}

func (b *Browser) Window(w, h int) {
	b.t.Helper()
	b.Call("Emulation.setDeviceMetricsOverride", map[string]any{"width": w, "height": h, "deviceScaleFactor": 1, "mobile": false}, nil)
}

func (b *Browser) listen(r io.Reader) {
	defer close(b.closed)
	in := bufio.NewReaderSize(r, 1<<20)
	for {
		raw, err := in.ReadBytes(0)
		if err != nil {
			return
		}
		var m message
		if json.Unmarshal(raw[:len(raw)-1], &m) != nil {
			continue
		}
		b.mu.Lock()
		if c, ok := b.answers[m.ID]; ok && m.ID != 0 {
			delete(b.answers, m.ID)
			c <- m
		} else {
			b.events = append(b.events, m)
		}
		b.mu.Unlock()
	}
}

// patience is how long an answer may take: generous, the machine may be busy.
const patience = 60 * time.Second

func (b *Browser) try(method string, params any) (json.RawMessage, error) {
	b.mu.Lock()
	b.next++
	id := b.next
	c := make(chan message, 1)
	b.answers[id] = c
	b.mu.Unlock()
	raw, err := json.Marshal(map[string]any{"id": id, "method": method, "params": params, "sessionId": b.session})
	if b.session == "" {
		raw, err = json.Marshal(map[string]any{"id": id, "method": method, "params": params})
	}
	if err != nil {
		return nil, err
	}
	if _, err := b.w.Write(append(raw, 0)); err != nil {
		return nil, err
	}
	select {
	case m := <-c:
		if m.Error != nil {
			return nil, fmt.Errorf("%s: %s", method, m.Error.Message)
		}
		return m.Result, nil
	case <-b.closed:
		return nil, errors.New("the browser ended")
	case <-time.After(patience):
		return nil, fmt.Errorf("%s: no answer in %v", method, patience)
	}
}

func (b *Browser) Call(method string, params, result any) {
	b.t.Helper()
	raw, err := b.try(method, params)
	if err != nil {
		b.t.Fatal(err)
	}
	if result != nil {
		if err := json.Unmarshal(raw, result); err != nil {
			b.t.Fatal(err)
		}
	}
}

// Eval returns the value of an expression in the page.
func (b *Browser) Eval(expr string) any {
	b.t.Helper()
	var r struct {
		Result           struct{ Value any }
		ExceptionDetails any
	}
	b.Call("Runtime.evaluate", map[string]any{"expression": expr, "returnByValue": true}, &r)
	if r.ExceptionDetails != nil {
		b.t.Fatalf("%s: %v", expr, r.ExceptionDetails)
	}
	return r.Result.Value
}

// Until waits for an expression to become true.
func (b *Browser) Until(expr string) {
	b.t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if b.Eval(expr) == true {
			return
		}
	}
	b.t.Fatalf("%s did not come true", expr)
}

// Troubles returns console errors, exceptions and requests for anything but the file and its data.
func (b *Browser) Troubles(file string) []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []string
	for _, e := range b.events {
		switch e.Method {
		case "Runtime.exceptionThrown", "Log.entryAdded", "Runtime.consoleAPICalled":
			out = append(out, e.Method+" "+string(e.Params))
		case "Network.requestWillBeSent":
			var p struct{ Request struct{ URL string } }
			_ = json.Unmarshal(e.Params, &p)
			if u := p.Request.URL; u != "file://"+file && !strings.HasPrefix(u, "data:image/png;base64,") && u != "about:blank" {
				out = append(out, fmt.Sprintf("request for %.80s", u))
			}
		}
	}
	return out
}

func (b *Browser) Key(key string) {
	for _, typ := range []string{"rawKeyDown", "keyUp"} {
		code := map[string]int{"ArrowLeft": 37, "ArrowRight": 39, "ArrowUp": 38, "ArrowDown": 40}[key]
		p := map[string]any{"type": typ, "key": key, "code": key, "windowsVirtualKeyCode": code}
		if len(key) == 1 {
			p["text"] = key
			if typ == "rawKeyDown" {
				p["type"] = "keyDown"
			}
		}
		b.Call("Input.dispatchKeyEvent", p, nil)
	}
}

// Drag moves the pressed mouse between two places of an element, as shares of its sides.
func (b *Browser) Drag(selector string, x0, y0, x1, y1 float64) {
	b.Eval(fmt.Sprintf("document.querySelector(%q).scrollIntoView({block:'center'})", selector))
	r := b.Eval(fmt.Sprintf("(function(){var r=document.querySelector(%q).getBoundingClientRect();return [r.left,r.top,r.width,r.height]})()", selector)).([]any)
	at := func(x, y float64) (float64, float64) {
		return r[0].(float64) + x*r[2].(float64), r[1].(float64) + y*r[3].(float64)
	}
	mouse := func(typ string, x, y float64, buttons int) {
		b.Call("Input.dispatchMouseEvent", map[string]any{"type": typ, "x": x, "y": y, "button": "left", "buttons": buttons, "clickCount": 1}, nil)
	}
	x, y := at(x0, y0)
	mouse("mouseMoved", x, y, 0)
	mouse("mousePressed", x, y, 1)
	for i := 1; i <= 4; i++ {
		t := float64(i) / 4
		x, y = at(x0+(x1-x0)*t, y0+(y1-y0)*t)
		mouse("mouseMoved", x, y, 1)
	}
	mouse("mouseReleased", x, y, 0)
}

// Shot returns a screenshot of the whole page.
func (b *Browser) Shot() []byte {
	var r struct{ Data string }
	b.Call("Page.captureScreenshot", map[string]any{"format": "png", "captureBeyondViewport": true}, &r)
	png, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		b.t.Fatal(err)
	}
	return png
}
