package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/ingest/condition"
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
	conn, err := r.conn(ctx, "FROM form") // which package condition asks
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	return condition.Columns(ctx, conn)
}

// checkRules checks the conditions of all rules without running them: each
// must be one boolean expression over the columns of the view form. A condition
// that was found good is not checked again.
func (r *Reader) checkRules(ctx context.Context, list []rules.Rule) error {
	list = slices.DeleteFunc(slices.Clone(list), func(rule rules.Rule) bool {
		_, good := r.validConditions.Load(rule.When)
		return good
	})
	if len(list) == 0 {
		return nil
	}
	conn, err := r.conn(ctx, "FROM form") // which package condition asks
	if err != nil {
		return err
	}
	defer conn.Close()
	columns, err := condition.Columns(ctx, conn)
	if err != nil {
		return err
	}
	conditions := make([]string, len(list))
	for i, rule := range list {
		if err := condition.Check(ctx, conn, rule.When, columns); err != nil {
			return ruleError(rule, err)
		}
		conditions[i] = rule.When
	}
	if condition.YesOrNo(ctx, conn, conditions...) != nil { // then which?
		for _, rule := range list {
			if err := condition.YesOrNo(ctx, conn, rule.When); err != nil {
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
	if err := r.checkRules(ctx, []rules.Rule{rule}); err != nil {
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

func ruleError(rule rules.Rule, err error) error {
	if rule.ID == rules.Tried {
		return err // a person gave the condition, and no rule
	}
	return fmt.Errorf("rule %q: %w", rule.ID, err)
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
