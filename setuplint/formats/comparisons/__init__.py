"""How a comparison is written: each module in this folder is a format, and has these names.

    ROOM: int | None                             bytes for the opening and all sections, None for any number
    between: str                                 between two sections
    opening(policy, said, look) -> str           what setups are judged by has changed so; what they are compared with
    section(comparison, reports, values, look) -> str    written as each is done
    BRIEF: bool; written(blocks, look) -> str            or instead: of documents, once all are done
    closing(compared, differing, troubles, passed_over, look) -> str

`reports` are the lints of the old and of the new file, as far as they exist; `values` the controls of both.
"""
