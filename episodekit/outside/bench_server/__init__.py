"""The bench log's server: how do marks get from a page on a phone into bench.jsonl, whatever happens meanwhile?

In: requests of devices that were let in by a one-time key. Out: the page, the job sheet, marks on disk. Never:
a mark told to be safe before it is; an answer to anybody else; a thought about what marks mean.
"""
