package main

import (
	"errors"
	"fmt"

	"halforder/job"
	"halforder/reason/fault"
	"halforder/store/sqlite"
)

// jobCmd groups what is done with a job card.
type jobCmd struct {
	Number int64  `name:"job" short:"j" placeholder:"NUMBER" help:"Which job; not needed while only one is open."`
	Faults int    `placeholder:"COUNT" help:"Faults at once thought possible: 1, 2 or 3. Two when left out; three take longer."`
	By     string `env:"HALFORDER_BY" placeholder:"NAME" help:"Who is entering this."`

	Open     jobOpenCmd     `cmd:"" help:"Open a job: car, engine, complaint."`
	List     jobListCmd     `cmd:"" help:"List the jobs."`
	Show     jobShowCmd     `cmd:"" help:"Show a job: what was measured, what is believed, what is open."`
	Add      jobAddCmd      `cmd:"" help:"Add a recording and hear what it says."`
	Weigh    jobWeighCmd    `cmd:"" help:"Add crank recordings and weigh every firing."`
	Cutout   jobCutoutCmd   `cmd:"" help:"Add a recorded cut-out test and read it."`
	Catalyst jobCatalystCmd `cmd:"" help:"Say what heat tests put into the catalysts, and what another cut may do."`
	Enter    jobEnterCmd    `cmd:"" help:"Enter the outcome of a check done by hand."`
	Checks   jobChecksCmd   `cmd:"" help:"List the checks this car can have, and their outcomes."`
	Next     jobNextCmd     `cmd:"" help:"Say what to check or do next, and why."`
	Swap     jobSwapCmd     `cmd:"" help:"Record that two parts changed places."`
	Watch    jobWatchCmd    `cmd:"" help:"Record what the miss did after a swap."`
	Others   jobOthersCmd   `cmd:"" help:"One part or the set: whether to renew the others within reach too, in money."`
	Renew    jobRenewCmd    `cmd:"" help:"Record a part renewed."`
	Mend     jobMendCmd     `cmd:"" help:"Record another repair, in words."`
	Prove    jobProveCmd    `cmd:"" help:"Prove the repair: the same measure as before it, long enough."`
	Codes    jobCodesCmd    `cmd:"" help:"Record trouble codes read from the car, or that they were cleared."`
	Agree    jobAgreeCmd    `cmd:"" help:"Record what the customer agreed to."`
	Note     jobNoteCmd     `cmd:"" help:"Record a remark."`
	Undo     jobUndoCmd     `cmd:"" help:"Take an entry back."`
	Close    jobCloseCmd    `cmd:"" help:"Close a job."`
	Report   jobReportCmd   `cmd:"" help:"Write the report for customer and file."`
}

// desk is a job card on the table: the book it is in and who writes.
type desk struct {
	*run
	book      job.Book
	catalogue *fault.Catalogue // of a card: with what earlier jobs taught
	learned   int              // how many those are
	faults    int              // at once thought possible, 0: the usual
	by        string
}

// withDesk opens the store for one command.
func (g *jobCmd) withDesk(r *run, work func(desk) error) error {
	return r.withStore(func(_ string, store *sqlite.Store, catalogue *fault.Catalogue) error {
		return work(desk{run: r, book: job.Book{Store: newReadOnce(store), Now: r.Now}, catalogue: catalogue, by: g.By, faults: g.Faults})
	})
}

// withCard does the same for the job that is meant.
func (g *jobCmd) withCard(r *run, work func(desk, *job.Card) error) error {
	if g.Faults < 0 || g.Faults > 3 {
		return badInput(fmt.Errorf("--faults %d: 1, 2 or 3 faults at once can be thought of", g.Faults))
	}
	return g.withDesk(r, func(d desk) error {
		card, err := d.card(job.ID(g.Number))
		if err != nil {
			return err
		}
		if d.catalogue, d.learned, err = d.book.Catalogue(d, d.catalogue, card); err != nil {
			return err
		}
		return work(d, card)
	})
}

func (d desk) card(id job.ID) (*job.Card, error) {
	if id != 0 {
		card, err := d.book.Card(d, id)
		if errors.Is(err, job.ErrNoJob) {
			err = badInput(err)
		}
		return card, err
	}
	card, err := d.book.Current(d)
	if errors.Is(err, job.ErrNoOpenJob) || errors.As(err, new(*job.ManyOpenError)) {
		err = badInput(err)
	}
	return card, err
}

// add stores what happened; what does not fit the card is a fault of the input.
func (d desk) add(card *job.Card, bodies ...job.Body) (*job.Card, error) {
	after, err := d.book.Add(d, card.ID, d.by, bodies...)
	if errors.As(err, new(*job.MisfitError)) {
		err = badInput(err)
	}
	return after, err
}

// enter is add with an acknowledgement: the numbers of the new events, to undo
// them by, and what they say.
func (d desk) enter(card *job.Card, words string, bodies ...job.Body) error {
	after, err := d.add(card, bodies...)
	if err != nil {
		return err
	}
	fmt.Fprintf(d.Stdout, "job %d, entry %d: %s\n", after.ID, after.Last, words)
	return nil
}
