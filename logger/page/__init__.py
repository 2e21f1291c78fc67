"""The live page: what the brewer and the coach see in a browser while a brew runs, and only see.

Every screen of it draws cues of :mod:`logger.guide`; nothing is worked out here. Loaded only where a page is
asked for.
"""
