"""Checks certificates against PDF/A-3b and PDF/UA-1 with pdf-oxide.

Usage: python check_pdf.py FILE.pdf [FILE.pdf ...]

Prints one line for each file and standard, and what the validator says it did
not check. Ends with 1 if a file is not valid, with 2 on wrong usage. The
validator is partial: this is a self-check, not a certification of the file.
Needs the package `pdf-oxide` (0.3.78 was tried).
"""

import sys

try:
    import pdf_oxide
except ImportError:
    sys.exit("the package pdf-oxide is missing; install it with: pip install pdf-oxide")


def main(paths):
    if not paths:
        print(__doc__, file=sys.stderr)
        return 2
    all_valid = True
    for path in paths:
        document = pdf_oxide.PdfDocument(path)
        for standard, result in (
            ("PDF/A-3b", document.validate_pdf_a("3b")),
            ("PDF/UA-1", document.validate_pdf_ua()),
        ):
            word = "valid" if result["valid"] else "NOT VALID"
            print(f"{path}: {standard}: {word}")
            for line in result["errors"] + result["warnings"]:
                print(f"    {line}")
            all_valid = all_valid and result["valid"] and not result["errors"]
    return 0 if all_valid else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
