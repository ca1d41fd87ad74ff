package orderbook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
)

// rulesAWord is how many rules' answers, two bits each, one integer carries.
const rulesAWord = 31

// HoldFirstForms says of each rule and each order of the cohort c whether the
// rule holds the order's first form: With is held, Without not held, Unknown
// where the condition is NULL, NotAtRisk where there is no first form. The days between
// which a rule was in force are not looked at. c must come from this reader.
//
// Each condition is checked before anything is run; an error names the rule.
func (r *Reader) HoldFirstForms(ctx context.Context, c *cohort.Cohort, list []rules.Rule) ([]rules.Applied, error) {
	if err := r.CheckRules(ctx, list); err != nil {
		return nil, err
	}
	applied, err := r.hold(ctx, c, list)
	if err == nil {
		return applied, nil
	}
	// One of them could not be worked out: find which.
	for i := range list {
		if _, err := r.hold(ctx, c, list[i:i+1]); err != nil {
			return nil, ruleError(list[i], err)
		}
	}
	return nil, err
}

// FormColumns are the columns of the view form that a rule's condition may use.
func (r *Reader) FormColumns(ctx context.Context) ([]string, error) {
	conn, err := r.conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	columns, err := columnsOf(ctx, conn, "SELECT * FROM form LIMIT 0")
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(columns, func(c string) bool { return slices.Contains(notForRules, c) }), nil
}

func columnsOf(ctx context.Context, conn *sql.Conn, query string) ([]string, error) {
	rows, err := conn.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	return rows.Columns()
}

// CheckRules checks the conditions of all rules without running them: each
// must be one boolean expression over the columns of the view form.
func (r *Reader) CheckRules(ctx context.Context, list []rules.Rule) error {
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
		if err := checkBoolean(ctx, conn, rule.When); err != nil {
			return ruleError(rule, err)
		}
	}
	return nil
}

func ruleError(rule rules.Rule, err error) error { return fmt.Errorf("rule %q: %w", rule.ID, err) }

// checkBoolean binds a condition, which must be checked already, and wants it
// to answer yes or no.
func checkBoolean(ctx context.Context, conn *sql.Conn, when string) error {
	rows, err := conn.QueryContext(ctx, "SELECT ("+when+"\n) FROM form LIMIT 0")
	if err != nil {
		line, _, _ := strings.Cut(err.Error(), "\n") // the rest draws where
		return fmt.Errorf("the condition can't be worked out: %s", line)
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		return err
	}
	if t := types[0].DatabaseTypeName(); t != "BOOLEAN" {
		return fmt.Errorf("the condition gives %s, not yes or no; write a comparison, as faults >= 2", strings.ToLower(t))
	}
	return nil
}

// hold evaluates checked rules in one pass over the first forms.
func (r *Reader) hold(ctx context.Context, c *cohort.Cohort, list []rules.Rule) ([]rules.Applied, error) {
	applied := make([]rules.Applied, len(list))
	for i, rule := range list {
		applied[i] = rules.Applied{Rule: rule, Held: make([]cohort.State, 0, c.Len())}
	}
	if len(list) == 0 {
		return applied, nil
	}
	query := func(from, to string) string { return holdSQL(list, from, to) }
	err := r.inStretches(ctx, query, func(int) {}, func(v []driver.Value) error {
		for i := range applied {
			state := cohort.NotAtRisk // no first form
			if word, ok := v[i/rulesAWord].(int64); ok {
				state = cohort.State(word >> (2 * (i % rulesAWord)) & 3)
			}
			applied[i].Held = append(applied[i].Held, state)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if n := len(applied[0].Held); n != c.Len() {
		return nil, fmt.Errorf("the cohort has %d orders, the book %d: it came from another reader", c.Len(), n)
	}
	return applied, nil
}

// holdSQL is one query with the answers of all rules packed into integers.
func holdSQL(list []rules.Rule, from, to string) string {
	var words []string
	for i, rule := range list {
		term := fmt.Sprintf("coalesce(1 + (%s\n)::BIGINT, 0) * (1::BIGINT << %d)", rule.When, 2*(i%rulesAWord))
		if i%rulesAWord == 0 {
			words = append(words, term)
		} else {
			words[len(words)-1] += "\n + " + term
		}
	}
	var q strings.Builder
	q.WriteString("SELECT ")
	for i := range words {
		fmt.Fprintf(&q, "word%d, ", i)
	}
	q.WriteString("FROM follow_up u LEFT JOIN (SELECT order_id")
	for i, w := range words {
		fmt.Fprintf(&q, ",\n %s AS word%d", w, i)
	}
	fmt.Fprintf(&q, "\nFROM form ANTI JOIN later_one USING (form_id) WHERE order_shipped_on BETWEEN %[1]s AND %[2]s) a USING (order_id)\n"+
		"WHERE u.doubt IS NULL AND u.shipped_on BETWEEN %[1]s AND %[2]s ORDER BY u.shipped_on, u.order_id", from, to)
	return q.String()
}
