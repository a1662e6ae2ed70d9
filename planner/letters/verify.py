"""Reading a stored paper back: does it still carry the data it was made from, and say so?"""

import io

import pikepdf


def faults_of_file(content: bytes, data: bytes, pages: int) -> tuple[str, ...]:
    """What is wrong with a paper's file, one sentence each. ``data`` is what a paper of its kind carries."""
    try:
        with pikepdf.open(io.BytesIO(content)) as pdf:
            carried = [pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments]
            count = len(pdf.pages)
    except pikepdf.PdfError as error:
        return (f"the file cannot be read ({error}).",)
    faults = []
    if count != pages:
        faults.append(f"it has {count} pages; {pages} were made.")
    if carried != [data]:
        faults.append("the data inside is not the frozen plan.")
    return tuple(faults)
