"""Past springs: the same steps as the service's, over what archives held of them.

No input or output: `archives` fetches, `cli.past` prints.
"""
