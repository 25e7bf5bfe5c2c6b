"""One page on loopback over all five verbs: it shows and hands on, and computes nothing.

`guard` keeps others out, `opened` holds the design that is open, `proving` proves it beside the
page, `shown` puts what was found into plain data, `app` answers, `serve` listens.
"""
