package orderbook

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

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
