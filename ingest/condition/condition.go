// Package condition holds what a person writes as a rule's condition to one
// boolean expression over the columns of the view form: no file, no setting, no
// clock, no other question, nothing that makes much out of little.
//
//  1. [Columns] are those that a condition may use.
//  2. [Check] reads the condition with the engine's own parser, without running
//     it, and walks what it read.
//  3. [YesOrNo] has the engine bind it: does it answer yes or no?
package condition

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/nearest"
	"lastroom/ingest/engine"
)

// Columns are the columns of the view form that a condition may use.
func Columns(ctx context.Context, conn *sql.Conn) ([]string, error) {
	columns, err := engine.Columns(ctx, conn, "SELECT * FROM form LIMIT 0")
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(columns, func(c string) bool { return slices.Contains(notForRules, c) }), nil
}

// longest bounds a rule's condition, in bytes.
const longest = 10_000

// operators and functions may stand in a rule's condition: none of
// them reads a file, a setting or the clock, and none makes much out of little. The
// parser writes operators as functions.
var operators = []string{
	"+", "-", "*", "/", "%", "//", "||", "~~", "!~~", "~~*", "!~~*",
	"like_escape", "ilike_escape", "not_like_escape", "not_ilike_escape",
}

var functions = []string{
	"abs", "round", "floor", "ceil", "greatest", "least",
	"lower", "upper", "trim", "length", "contains", "starts_with", "ends_with", "prefix", "suffix",
	"date_part", "year", "month", "day", "date_diff", "datediff",
}

// classes are the kinds of expression a condition is made of.
var classes = []string{
	"COLUMN_REF", "CONSTANT", "COMPARISON", "CONJUNCTION", "OPERATOR", "BETWEEN", "CASE", "CAST", "FUNCTION",
}

// notForRules are columns of the view form that are not known when a form
// arrives, or are not meant for people.
var notForRules = []string{"cut_from", "order_shipped_on", "fault_states"}

// A parsedSQL is a statement as the engine's own parser writes it out.
type parsedSQL struct {
	Error    bool   `json:"error"`
	Message  string `json:"error_message"`
	Position string `json:"position"`
	// Statements holds one element a statement.
	Statements []struct {
		Node map[string]any `json:"node"`
	} `json:"statements"`
}

// parseSQL parses SELECT statements with the engine's own parser; nothing is
// bound or run.
func parseSQL(ctx context.Context, conn *sql.Conn, text string) (p parsedSQL, err error) {
	var out string
	if err := conn.QueryRowContext(ctx, "SELECT CAST(json_serialize_sql(?::VARCHAR) AS VARCHAR)", text).Scan(&out); err != nil {
		return p, err
	}
	return p, json.Unmarshal([]byte(out), &p)
}

// Check refuses whatever is not one boolean expression over the given
// columns. The error says what is wrong and, for a mistyped column, which one
// it may have meant.
func Check(ctx context.Context, conn *sql.Conn, when string, columns []string) error {
	if len(when) > longest {
		return fmt.Errorf("the condition is longer than %d characters", longest)
	}
	const before = "SELECT ("
	p, err := parseSQL(ctx, conn, before+when+"\n)")
	if err != nil {
		return err
	}
	if at, err := strconv.Atoi(p.Position); p.Error && err == nil && at >= len(before)+len(when) { // the bracket there is ours
		return errors.New("the condition can't be read: something is missing at its end")
	}
	if p.Error {
		return fmt.Errorf("the condition can't be read: %s", p.Message)
	}
	expr, err := onlyExpression(p)
	if err != nil {
		return err
	}
	return checkExpression(expr, columns)
}

// onlyExpression takes the one expression out of SELECT (expression), and
// refuses a statement that is more than that.
func onlyExpression(p parsedSQL) (any, error) {
	more := errors.New("the condition must be one expression, as tape_marks_missing OR outline_broken")
	if len(p.Statements) != 1 {
		return nil, more
	}
	for key, value := range p.Statements[0].Node {
		plain := false
		switch key {
		case "type":
			plain = value == "SELECT_NODE"
		case "select_list":
			plain = len(value.([]any)) == 1
		case "from_table":
			plain = value.(map[string]any)["type"] == "EMPTY"
		case "aggregate_handling":
			plain = value == "STANDARD_HANDLING"
		case "cte_map":
			plain = empty(value.(map[string]any)["map"])
		default:
			plain = empty(value)
		}
		if !plain {
			return nil, more
		}
	}
	list, ok := p.Statements[0].Node["select_list"].([]any)
	if !ok || len(list) != 1 {
		return nil, more
	}
	return list[0], nil
}

// empty reports whether a part of the parsed statement is not there.
func empty(v any) bool {
	switch v := v.(type) {
	case nil:
		return true
	case []any:
		return len(v) == 0
	case bool:
		return !v
	}
	return false
}

// checkExpression walks the expression; every part of a class that is not
// listed is refused.
func checkExpression(v any, columns []string) error {
	switch v := v.(type) {
	case []any:
		for _, part := range v {
			if err := checkExpression(part, columns); err != nil {
				return err
			}
		}
	case map[string]any:
		if class, ok := v["class"].(string); ok {
			if err := checkClass(class, v, columns); err != nil {
				return err
			}
		}
		for _, part := range v {
			if err := checkExpression(part, columns); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkClass(class string, v map[string]any, columns []string) error {
	switch class {
	case "COLUMN_REF":
		return checkColumn(v["column_names"], columns)
	case "FUNCTION":
		name, _ := v["function_name"].(string)
		if !slices.Contains(operators, strings.ToLower(name)) && !slices.Contains(functions, strings.ToLower(name)) || !empty(v["filter"]) || v["catalog"] != "" ||
			v["schema"] != "" && v["schema"] != "main" { // the parser itself writes LIKE … ESCAPE with main
			return fmt.Errorf("%s can't stand in a condition; these can: %s", name, strings.Join(functions, ", "))
		}
	case "SUBQUERY":
		return errors.New("a condition can't ask another question (SELECT) within it; write it over the columns of one form")
	}
	if !slices.Contains(classes, class) {
		return fmt.Errorf("this kind of expression (%s) can't stand in a condition", strings.ToLower(class))
	}
	return nil
}

func checkColumn(v any, columns []string) error {
	var path []string
	list, _ := v.([]any)
	for _, part := range list {
		s, _ := part.(string)
		path = append(path, s)
	}
	name := strings.Join(path, ".")
	known := func(c string) bool { return strings.EqualFold(c, name) }
	if slices.ContainsFunc(columns, known) {
		return nil
	}
	if slices.ContainsFunc(notForRules, known) {
		return fmt.Errorf("%s is not known when a form arrives, so no rule can rest on it", name)
	}
	if near := nearest.Name(name, columns); near != "" {
		return fmt.Errorf("there is no column %q; did you mean %q?", name, near)
	}
	return fmt.Errorf("there is no column %q (a word of text stands in single quotes: '%s'); the columns are %s", name, name, strings.Join(columns, ", "))
}

// YesOrNo binds conditions, which must be checked already, and wants them
// to answer yes or no.
func YesOrNo(ctx context.Context, conn *sql.Conn, conditions ...string) error {
	if len(conditions) == 0 {
		return nil
	}
	var all []string
	for _, when := range conditions {
		all = append(all, "("+when+"\n)")
	}
	rows, err := conn.QueryContext(ctx, "SELECT "+strings.Join(all, ", ")+" FROM form LIMIT 0")
	if err != nil {
		line, _, _ := strings.Cut(err.Error(), "\n") // the rest draws where
		return fmt.Errorf("the condition can't be worked out: %s", line)
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		return err
	}
	for _, t := range types {
		if name := t.DatabaseTypeName(); name != "BOOLEAN" {
			return fmt.Errorf("the condition gives %s, not yes or no; write a comparison, as faults >= 2", strings.ToLower(name))
		}
	}
	return nil
}
