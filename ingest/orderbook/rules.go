package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/nearest"
	"lastroom/analysis/rules"
	"lastroom/ingest/engine"
)

// rulesAWord is how many rules' answers, two bits each, one integer carries.
const rulesAWord = 31

// brokenRule finds the rule whose condition can't be worked out on these forms.
func (r *Reader) brokenRule(ctx context.Context, list []rules.Rule) error {
	for _, rule := range list {
		err := r.each(ctx, "SELECT count(*) FROM form WHERE ("+rule.When+"\n)", nil, func(*sql.Rows) error { return nil })
		if err != nil {
			return ruleError(rule, err)
		}
	}
	return nil
}

// FormColumns are the columns of the view form that a rule's condition may use.
func (r *Reader) FormColumns(ctx context.Context) ([]string, error) {
	conn, err := r.conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	columns, err := engine.Columns(ctx, conn, "SELECT * FROM form LIMIT 0")
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(columns, func(c string) bool { return slices.Contains(notForRules, c) }), nil
}

// CheckRules checks the conditions of all rules without running them: each
// must be one boolean expression over the columns of the view form. A condition
// that was found good is not checked again.
func (r *Reader) CheckRules(ctx context.Context, list []rules.Rule) error {
	list = slices.DeleteFunc(slices.Clone(list), func(rule rules.Rule) bool {
		_, good := r.validConditions.Load(rule.When)
		return good
	})
	if len(list) == 0 {
		return nil
	}
	columns, err := r.FormColumns(ctx)
	if err != nil {
		return err
	}
	conn, err := r.conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	for _, rule := range list {
		if err := checkCondition(ctx, conn, rule.When, columns); err != nil {
			return ruleError(rule, err)
		}
	}
	if checkBoolean(ctx, conn, list...) != nil { // then which?
		for _, rule := range list {
			if err := checkBoolean(ctx, conn, rule); err != nil {
				return ruleError(rule, err)
			}
		}
	}
	for _, rule := range list {
		r.validConditions.Store(rule.When, true)
	}
	return nil
}

// FirstFormsHeld are the ids of the first forms received from one day to another
// that a rule holds, by day. An error names the rule.
func (r *Reader) FirstFormsHeld(ctx context.Context, rule rules.Rule, from, to cohort.Day) ([]string, error) {
	if err := r.CheckRules(ctx, []rules.Rule{rule}); err != nil {
		return nil, err
	}
	var ids []string
	q := "SELECT form_id FROM first_form WHERE received_on BETWEEN ?::DATE AND ?::DATE AND (" + rule.When + "\n) ORDER BY received_on, form_id"
	err := r.each(ctx, q, []any{from.String(), to.String()}, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	if err != nil && ctx.Err() == nil {
		err = cmp.Or(r.brokenRule(ctx, []rules.Rule{rule}), err)
	}
	return ids, err
}

func ruleError(rule rules.Rule, err error) error { return fmt.Errorf("rule %q: %w", rule.ID, err) }

// checkBoolean binds conditions, which must be checked already, and wants them
// to answer yes or no.
func checkBoolean(ctx context.Context, conn *sql.Conn, list ...rules.Rule) error {
	if len(list) == 0 {
		return nil
	}
	var all []string
	for _, rule := range list {
		all = append(all, "("+rule.When+"\n)")
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

// heldCount is how many integers the answers of the rules take.
func heldCount(list []rules.Rule) int { return (len(list) + rulesAWord - 1) / rulesAWord }

// heldWords are the answers of all rules packed into integers, as columns of a
// SELECT over the view form.
func heldWords(list []rules.Rule) string {
	var q strings.Builder
	for i, rule := range list {
		if i%rulesAWord > 0 {
			q.WriteString("\n + ")
		} else {
			q.WriteString(",\n")
		}
		fmt.Fprintf(&q, "coalesce(1 + (%s\n)::BIGINT, 0) * (1::BIGINT << %d)", rule.When, 2*(i%rulesAWord))
		if i%rulesAWord == rulesAWord-1 || i == len(list)-1 {
			fmt.Fprintf(&q, " AS held%d", i/rulesAWord)
		}
	}
	return q.String()
}

// longestCondition bounds a rule's condition, in bytes.
const longestCondition = 10_000

// conditionOperators and conditionFunctions may stand in a rule's condition: none of
// them reads a file, a setting or the clock, and none makes much out of little. The
// parser writes operators as functions.
var conditionOperators = []string{
	"+", "-", "*", "/", "%", "//", "||", "~~", "!~~", "~~*", "!~~*",
	"like_escape", "ilike_escape", "not_like_escape", "not_ilike_escape",
}

var conditionFunctions = []string{
	"abs", "round", "floor", "ceil", "greatest", "least",
	"lower", "upper", "trim", "length", "contains", "starts_with", "ends_with", "prefix", "suffix",
	"date_part", "year", "month", "day", "date_diff", "datediff",
}

// conditionClasses are the kinds of expression a condition is made of.
var conditionClasses = []string{
	"COLUMN_REF", "CONSTANT", "COMPARISON", "CONJUNCTION", "OPERATOR", "BETWEEN", "CASE", "CAST", "FUNCTION",
}

// notForRules are columns of the view form that are not known when a form
// arrives, or are not meant for people.
var notForRules = []string{"cut_from", "order_shipped_on", "fault_states"}

// A parsedNode is a statement as the engine's own parser writes it out.
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

// checkCondition refuses whatever is not one boolean expression over the given
// columns. The error says what is wrong and, for a mistyped column, which one
// it may have meant.
func checkCondition(ctx context.Context, conn *sql.Conn, when string, columns []string) error {
	if len(when) > longestCondition {
		return fmt.Errorf("the condition is longer than %d characters", longestCondition)
	}
	p, err := parseSQL(ctx, conn, "SELECT ("+when+"\n)")
	if err != nil {
		return err
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
		if !slices.Contains(conditionOperators, strings.ToLower(name)) && !slices.Contains(conditionFunctions, strings.ToLower(name)) || !empty(v["filter"]) || v["catalog"] != "" ||
			v["schema"] != "" && v["schema"] != "main" { // the parser itself writes LIKE … ESCAPE with main
			return fmt.Errorf("%s can't stand in a condition; these can: %s", name, strings.Join(conditionFunctions, ", "))
		}
	case "SUBQUERY":
		return errors.New("a condition can't ask another question (SELECT) within it; write it over the columns of one form")
	}
	if !slices.Contains(conditionClasses, class) {
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
