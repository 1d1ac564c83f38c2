# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoil a good archive in many ways: bad_archives.py CASE.tar BACKUP.tar FOLDER writes FOLDER/NAME.tar, one for each way."""
import copy
import gzip
import hashlib
import io
import json
import os
import sqlite3
import sys
import tarfile
import zipfile

case_tar, backup_tar, folder = sys.argv[1:]


def read(path):
    with tarfile.open(path) as tar:
        return [(m.name, tar.extractfile(m).read()) for m in tar.getmembers()]


def info(name, data=b"", **more):
    member = tarfile.TarInfo(name)
    member.size = len(data)
    for key, value in more.items():
        setattr(member, key, value)
    return member


def write(name, members, form=tarfile.USTAR_FORMAT):
    """members: (TarInfo or name, bytes)"""
    path = os.path.join(folder, name + ".tar")
    with tarfile.open(path, "w", format=form) as tar:
        for member, data in members:
            member = member if isinstance(member, tarfile.TarInfo) else info(member, data)
            tar.addfile(member, io.BytesIO(data) if member.isreg() else None)
    return path


def with_manifest(name, members, change):
    manifest = json.loads(members[0][1])
    change(manifest)
    return write(name, [("MANIFEST.json", json.dumps(manifest).encode())] + members[1:])


def listed(members, manifest=None):
    """Members with a manifest that lists them rightly."""
    manifest = copy.deepcopy(manifest or json.loads(members[0][1]))
    manifest["members"] = [
        {"name": n, "bytes": len(d), "sha256": hashlib.sha256(d).hexdigest()} for n, d in members[1:]]
    return [("MANIFEST.json", json.dumps(manifest).encode())] + members[1:]


good = read(case_tar)
first = good[1][0]
write("good", good)  # the way this file writes is not what is refused

# names
for name, bad in [("up", "../../up"), ("inner_up", "cases/../../up"), ("absolute", "/etc/up"), ("dot", "./cases/1/1.json"),
                  ("letters", "cases/\u00e4.json"), ("control", "cases/a\nb.json"), ("long", "a" * 99 + "/" + "b" * 99),
                  ("folder_like", "cases/")]:
    spoilt = [(n if n != first else bad, d) for n, d in good]
    write("name_" + name, listed(spoilt), tarfile.PAX_FORMAT)
    write("unlisted_name_" + name, spoilt, tarfile.PAX_FORMAT)

# kinds of members
for name, kind in [("symlink", tarfile.SYMTYPE), ("hardlink", tarfile.LNKTYPE), ("device", tarfile.CHRTYPE),
                   ("fifo", tarfile.FIFOTYPE), ("folder", tarfile.DIRTYPE)]:
    write("kind_" + name, [good[0], (info(first, type=kind, linkname="/etc/passwd"), b"")] + good[2:])
    write("kind_" + name + "_more", good + [(info("more", type=kind, linkname=first), b"")])
    write("kind_" + name + "_first", [(info("MANIFEST.json", type=kind, linkname="/etc/passwd"), b"")] + good[1:])

# what the manifest says
write("no_manifest", good[1:])
write("manifest_last", good[1:] + good[:1])
write("manifest_twice", good[:1] + good)
write("nothing", [])
write("manifest_only", good[:1])
write("not_json", [("MANIFEST.json", b"{")] + good[1:])
write("not_object", [("MANIFEST.json", b"[]")] + good[1:])
write("deep", [("MANIFEST.json", b"[" * 100000)] + good[1:])
with_manifest("schema", good, lambda m: m.update(schema="branchkeep.archive/2"))
with_manifest("holds", good, lambda m: m.update(holds="all"))
with_manifest("members_text", good, lambda m: m.update(members="x"))
with_manifest("members_numbers", good, lambda m: m.update(members=[1, 2, 3]))
with_manifest("no_cases", good, lambda m: m.pop("cases"))
with_manifest("cases_empty", good, lambda m: m.update(cases=[]))
with_manifest("no_revisions", good, lambda m: m["cases"][0].pop("revisions"))
with_manifest("revision_gap", good, lambda m: m["cases"][0]["revisions"].pop(0))
with_manifest("revision_twice", good, lambda m: m["cases"][0]["revisions"].insert(0, m["cases"][0]["revisions"][0]))
with_manifest("case_twice_other", good, lambda m: m["cases"].append(dict(m["cases"][0], case_id="x")))
with_manifest("other_id", good, lambda m: m["cases"][0].update(case_id="x"))
with_manifest("member_elsewhere", good, lambda m: m["cases"][0]["revisions"][0].update(member="cases/9/9.json"))
with_manifest("no_saved_at", good, lambda m: m["cases"][0]["revisions"][0].pop("saved_at"))
with_manifest("sha_wrong", good, lambda m: m["members"][0].update(sha256="0" * 64))
with_manifest("sha_short", good, lambda m: m["members"][0].update(sha256="0"))
with_manifest("bytes_more", good, lambda m: m["members"][0].update(bytes=m["members"][0]["bytes"] + 1))
with_manifest("bytes_less", good, lambda m: m["members"][0].update(bytes=m["members"][0]["bytes"] - 1))
with_manifest("bytes_huge", good, lambda m: m["members"][0].update(bytes=3 << 30))
with_manifest("bytes_bomb", good, lambda m: m["members"][0].update(bytes=1 << 30))
with_manifest("bytes_negative", good, lambda m: m["members"][0].update(bytes=-1))
with_manifest("bytes_text", good, lambda m: m["members"][0].update(bytes="1"))
with_manifest("listed_twice", good, lambda m: m["members"].append(m["members"][0]))
with_manifest("many", good, lambda m: m.update(members=m["members"][:1] * 60000))

# members
write("missing", good[:-1])
write("more", good + [("more", b"x")])
write("twice", good + good[-1:])
write("other_order", [good[0]] + good[:0:-1])
write("changed", good[:-1] + [(good[-1][0], good[-1][1][:-1] + b"\0")] if good[-1][1][-1:] != b"\0"
      else good[:-1] + [(good[-1][0], good[-1][1][:-1] + b"\1")])
write("belongs_nowhere", listed(good + [("cases/7/1.json", b"{}")]))
no_dicom = b"no DICOM"
write("no_dicom", listed(good[:-1] + [("cines/%s.dcm" % hashlib.sha256(no_dicom).hexdigest(), no_dicom)]))
write("cine_name", listed(good[:-1] + [("cines/%s.dcm" % ("0" * 64), good[-1][1])]))
doc = json.loads(good[1][1])
for name, change in [("doc_id", {"case_id": "x"}), ("doc_revision", {"revision": 7}), ("doc_range", {"patient": {"age_y": 400}}),
                     ("doc_schema", {"schema": "branchkeep.case/9"})]:
    write(name, listed([good[0], (first, json.dumps(dict(doc, **change)).encode())] + good[2:]))
write("doc_text", listed([good[0], (first, b"text")] + good[2:]))
write("doc_zero", listed([good[0], (first, good[1][1].replace(b"{", b"{\0", 1))] + good[2:]))

# the file itself
whole = open(case_tar, "rb").read()


def raw(name, data):
    with open(os.path.join(folder, name + ".tar"), "wb") as file:
        file.write(data)


raw("gzip", gzip.compress(whole))
raw("bomb", gzip.compress(b"\0" * (64 << 20)))
raw("text", b"This is no archive.\n" * 100)
raw("zeros", bytes(20480))
for at in (100, 511, 513, 1500, len(whole) // 2, len(whole) - 12000):
    raw("cut_%d" % at, whole[:at])
zipped = io.BytesIO()
with zipfile.ZipFile(zipped, "w") as z:
    for n, d in good:
        z.writestr(n, d)
raw("zip", zipped.getvalue())

# backups: a database that is not one, that has another schema, that is newer, that promises cines it does not bring
backup = read(backup_tar)


def with_database(name, change):
    path = os.path.join(folder, "spoilt.sqlite")
    with open(path, "wb") as file:
        file.write(backup[1][1])
    db = sqlite3.connect(path)
    db.executescript(change)
    db.close()
    data = open(path, "rb").read()
    os.remove(path)
    write("backup_" + name, listed([backup[0], (backup[1][0], data)] + backup[2:]))


write("backup_good_way", backup)
with_database("newer", "PRAGMA user_version = 99")
with_database("foreign", "PRAGMA application_id = 1")
with_database("old_without_tables", "DROP TABLE case_cines; DROP TABLE cines")
with_database("view", "DROP TABLE cines; CREATE VIEW cines AS SELECT 1 AS sha256, 2 AS bytes, 3 AS added_at, 4 AS summary")
with_database("document", "DROP TRIGGER revisions_are_kept; UPDATE revisions SET document = '{}'")
with_database("gap", "DELETE FROM revisions WHERE revision = 1")
with_database("orphan", "PRAGMA foreign_keys = OFF; DELETE FROM cases")
with_database("cine_more", "INSERT INTO cines VALUES ('%s', 1, 'x', '{}')" % ("a" * 64))
with_database("cine_less", "DELETE FROM cines")
write("backup_no_database", listed([backup[0]] + backup[2:]))
write("backup_text", listed([backup[0], (backup[1][0], b"no database" * 100)] + backup[2:]))
write("backup_cut", listed([backup[0], (backup[1][0], backup[1][1][:8192])] + backup[2:]))
