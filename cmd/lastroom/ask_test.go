package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"
)

// ask sends a form to the service, or none, and gives the page that it ends at.
func ask(base, path string, form url.Values) (string, *url.URL, error) {
	client := http.Client{Timeout: time.Minute}
	get := func() (*http.Response, error) { return client.Get(base + path) }
	if form != nil {
		get = func() (*http.Response, error) { return client.PostForm(base+path, form) }
	}
	res, err := get()
	if err != nil {
		return "", nil, err
	}
	return answerOf(&client, base, res)
}

// answerOf waits for the end of a job, where there is one.
func answerOf(client *http.Client, base string, res *http.Response) (string, *url.URL, error) {
	for {
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err == nil && res.StatusCode != http.StatusOK {
			_, main, _ := strings.Cut(string(b), "<main")
			err = fmt.Errorf("%s: %s: %.600s", res.Request.URL, res.Status, main)
		}
		if err != nil || !regexp.MustCompile(`^/job/[^/]+$`).MatchString(res.Request.URL.Path) {
			return string(b), res.Request.URL, err
		}
		at := res.Request.URL.Path
		var job struct {
			Ended   bool
			Problem string
		}
		state, err := client.Get(base + at + "/state")
		if err != nil {
			return "", nil, err
		}
		err = json.NewDecoder(state.Body).Decode(&job)
		state.Body.Close()
		if err == nil && job.Ended && job.Problem != "" {
			err = errors.New(job.Problem)
		}
		if err != nil {
			return "", nil, err
		}
		time.Sleep(20 * time.Millisecond)
		if res, err = client.Get(base + at); err != nil {
			return "", nil, err
		}
	}
}

func decideOnce(base string) error {
	page, _, err := ask(base, "/decisions", nil)
	if err != nil {
		return err
	}
	run := runOf(page)
	page, _, err = ask(base, "/decisions", url.Values{"rule": {"tape-zero-missed"}, "words": {"we hold these forms"}, "who": {"Ann"}, "run": {run}, "revisit": {"2027-01-01"}})
	if err == nil && !strings.Contains(page, "we hold these forms") {
		err = errors.New("the decision is not on its page")
	}
	return err
}

func saveOnce(base string) error {
	page, _, err := ask(base, "/edit/ours", nil)
	version := ""
	if err == nil {
		if found := regexp.MustCompile(`name="version" value="([^"]*)"`).FindStringSubmatch(page); found != nil {
			version = found[1]
		}
	}
	text := "---\ntitle: Ours\nfor: us\n---\n\nSaid at " + time.Now().String() + "\n"
	_, _, err = ask(base, "/edit/ours", url.Values{"do": {"save"}, "name": {"ours"}, "text": {text}, "version": {version}})
	return err
}

func keepLayoutOnce(base string) error {
	client := http.Client{Timeout: time.Minute}
	body, typ := upload("fitting.csv", []byte("Order no;Customer;Received on;Shipped on;Boot height;Left ball;Right ball\nKEPT1;KEPTCUSTOMER;2026-01-05;2026-02-05;14;257;250\nKEPT2;KEPTCUSTOMER2;2026-01-06;2026-02-05;14;240;241\n"))
	res, err := client.Post(base+"/spreadsheets", typ, bytes.NewReader(body))
	if err != nil {
		return err
	}
	_, at, err := answerOf(&client, base, res)
	if err != nil {
		return err
	}
	if _, _, err := ask(base, at.Path, url.Values{"do": {"try"}}); err != nil {
		return err
	}
	_, _, err = ask(base, at.Path+"/load", url.Values{"name": {"Fitting book"}})
	if err != nil {
		return err
	}
	_, _, err = ask(base, "/layouts/Fitting%20book/mapping.yaml", nil)
	return err
}

func uploadOnce(base string) error {
	client := http.Client{Timeout: time.Minute}
	body, typ := upload("orders.csv", []byte("order_id,customer_id,received_on\nSENT1,SENTCUSTOMER,2026-01-05\n"))
	res, err := client.Post(base+"/sheets/load", typ, bytes.NewReader(body))
	if err != nil {
		return err
	}
	_, _, err = answerOf(&client, base, res)
	return err
}

// runOf is a run of measurements that a page names.
func runOf(page string) string { return regexp.MustCompile(`measurements-[0-9a-f-]+`).FindString(page) }

func switchOnce(base string) error {
	title := "Ours of " + time.Now().Format("150405.000000")
	page, _, err := ask(base, "/rules/switch", url.Values{"do": {"on"}, "title": {title}, "when": {"faults >= 2"}, "day": {"2026-11-01"}, "revisit": {"2027-05-01"}, "words": {"they come back"}, "who": {"Ann"}})
	if err == nil && !strings.Contains(page, title) {
		err = errors.New("the rule is not on its page")
	}
	return err
}

// keepFormOnce keeps a form that may be kept already.
func keepFormOnce(base string) error {
	_, _, err := ask(base, "/desk/keep", url.Values{"order_id": {"TYPED1"}, "customer_id": {"TYPEDCUSTOMER"}, "form_id": {"TYPED1-1"}, "unit": {"mm"}, "n-left-bare-ball": {"250"}, "seen": {"0"}})
	if err != nil && strings.Contains(err.Error(), "409") {
		_, _, err = ask(base, "/desk/open", nil)
	}
	return err
}

// tapeOnce begins a measuring session and writes what its first turn measured; where it is
// begun already, the turn that comes next.
func tapeOnce(base string) error {
	page, _, err := ask(base, "/session", url.Values{"id": {"spring"}, "day": {"2026-11-02"}, "instructor": {"boss"}, "measurers": {"Ann"}, "subjects": {"A\nB"}, "spot": {"ball"}, "trials": {"1"}, "unit": {"mm"}, "lot": {"7"}})
	turns := regexp.MustCompile(`/session/[\w-]+/at/[\w-]+`)
	if err != nil || !turns.MatchString(page) { // there is one of that name already
		var list string
		if list, _, err = ask(base, "/session", nil); err != nil {
			return err
		}
		if page, _, err = ask(base, regexp.MustCompile(`/session/[\w-]+`).FindString(list), nil); err != nil {
			return err
		}
	}
	if page, _, err = ask(base, turns.FindString(page), nil); err != nil {
		return err
	}
	turn := url.Values{"leave": {"yes"}}
	for _, m := range regexp.MustCompile(`name="(turn|[lrn]-?[^"]*)" value="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		turn.Set(m[1], m[2])
		if m[1] != "turn" {
			turn.Set(m[1], "251")
		}
	}
	to := regexp.MustCompile(`action="(/session/[\w-]+/at/[\w-]+)"`).FindStringSubmatch(page)
	if to == nil {
		return fmt.Errorf("no turn to measure: %s", page)
	}
	_, _, err = ask(base, to[1], turn)
	return err
}

func practiseOnce(base string) error {
	_, _, err := ask(base, "/practice", url.Values{"name": {"Ann"}, "forms": {"10"}, "seed": {"7"}})
	return err
}
