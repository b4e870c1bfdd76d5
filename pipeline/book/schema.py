"""The tables of the book."""

SCHEMA = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE files (number INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL, line TEXT NOT NULL);
CREATE INDEX files_sha256 ON files (sha256);
CREATE TABLE sheets (sheet INTEGER PRIMARY KEY, number INTEGER NOT NULL, name TEXT NOT NULL, kind TEXT NOT NULL,
                     header_row INTEGER NOT NULL, first_fact INTEGER NOT NULL, count INTEGER NOT NULL,
                     columns TEXT NOT NULL);
CREATE TABLE blocks (sheet INTEGER NOT NULL, name TEXT NOT NULL, data BLOB NOT NULL, PRIMARY KEY (sheet, name));
CREATE TABLE copies (fact INTEGER PRIMARY KEY, number INTEGER NOT NULL, copied_from INTEGER NOT NULL,
                     kind TEXT NOT NULL, changed TEXT NOT NULL);
CREATE TABLE entry_findings (number INTEGER NOT NULL, finding TEXT NOT NULL);
CREATE TABLE known_findings (finding TEXT PRIMARY KEY, about TEXT NOT NULL);
CREATE TABLE ruled (number INTEGER NOT NULL, about TEXT NOT NULL);
CREATE TABLE open_findings (finding TEXT PRIMARY KEY, severity TEXT NOT NULL, code TEXT NOT NULL,
                            subject TEXT NOT NULL);
CREATE TABLE standings (batch TEXT PRIMARY KEY, standing TEXT NOT NULL);
CREATE TABLE published (path TEXT PRIMARY KEY, sha256 TEXT NOT NULL, next TEXT NOT NULL);
"""
