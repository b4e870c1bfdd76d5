"""The first page, the record's page and the label's page, with their pictures.

May import: pipeline, record.
Read: paper, drawing, pictures, page_label, page_record, page_index.
"""
