"""What an editor asks of a layout as it is typed: findings, meanings, names, cures. Knows nothing of the protocol.

Places are offsets into the text, in characters from 0; `server` alone speaks the language server protocol.
"""
