"""The one file a backup is: a tar of the manifest and what it names, in that order; encrypted where a key is given.

Nothing is unpacked by the names in the archive alone: each member must be the next file of the manifest, a plain one,
of the size that stands there. Encrypting and decrypting is left to ``age`` or ``gpg``.
"""

import errno
import hashlib
import io
import os
import secrets
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, cast

from planner.keeping.manifest import LARGEST, NAME, Manifest, NotABackup, read_manifest
from planner.trail.errors import Refused

_CHUNK = 1024 * 1024
_AGE_KEYS = ("age1", "ssh-ed25519", "ssh-rsa")
_PGP_KEY = "-----BEGIN PGP PUBLIC KEY BLOCK-----"
_AGE_FILE = b"age-encryption.org/v1"
# First byte of an OpenPGP message for a public key: packet 1, in the old and in the new way of writing it.
_PGP_FILE = (0x84, 0x85, 0x86, 0xC1)
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Lock:
    """The public key a backup is encrypted to, and the tool that does it."""

    tool: str
    key: Path


def lock_for(key: Path) -> Lock:
    """How to encrypt to the public key in the file ``key``. Raises Refused when it is none, or its tool is absent."""
    try:
        with key.open(encoding="ascii") as file:
            begins = file.read(_CHUNK)
    except OSError as error:
        raise Refused(f"The key file {key} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        begins = ""
    lines = [line for line in begins.splitlines() if line.strip() and not line.startswith("#")]
    if lines and lines[0].startswith(_AGE_KEYS):
        return Lock(_tool("age"), key)
    if lines and lines[0].startswith(_PGP_KEY):
        return Lock(_tool("gpg"), key)
    raise Refused(
        f"{key} holds no public key that is known here: it begins with age1… (made by age-keygen) or with "
        f"{_PGP_KEY} (written by gpg --armor --export)."
    )


def _tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        package = {"gpg": "gnupg"}.get(name, name)
        raise Refused(
            f"{name} is not installed, so nothing can be encrypted or decrypted with it: apt install {package}."
        )
    return found


def write_archive(dest: Path, manifest: Manifest, folder: Path, *, lock: Lock | None, tell: Tell) -> None:
    """Write ``dest`` from the files in ``folder``; it bears that name only once it is whole and on the disk.

    Raises Refused when ``dest`` is there already, and when the disk is full: nothing of it is left then.
    """
    refuse_overwriting(dest)
    part = dest.with_name(f".{dest.name}.{secrets.token_hex(4)}.unfinished")
    try:
        # Only its owner may read it, whatever the umask says.
        with open(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            with _encrypted(file, lock) as stream:
                _write_tar(stream, manifest, folder, tell)
            file.flush()
            os.fsync(file.fileno())
        _give_name(part, dest)
    except OSError as error:
        raise disk_fault(error, dest.parent) from None
    finally:
        part.unlink(missing_ok=True)


def refuse_overwriting(dest: Path) -> None:
    """Raises Refused where ``dest`` is there already, or cannot be written because its folder is not."""
    if dest.exists() or dest.is_symlink():
        raise Refused(
            f"{dest} is there already and is not written over: choose another name, such as one with the date."
        )
    if not dest.parent.is_dir():
        raise Refused(f"The folder {dest.parent} is not there: make it, or attach the disk it should lie on.")


def disk_fault(error: OSError, where: Path) -> Refused:
    """What to say when ``where`` could not be written to."""
    if error.errno in FULL:
        return Refused(
            f"The disk is full: {where} has no room for this backup. Nothing was kept of it; make room first."
        )
    return Refused(f"{where} cannot be written to: {error.strerror or error}. Nothing was kept of this backup.")


def unpack(source: Path, folder: Path, *, identity: Path | None, tell: Tell) -> Manifest:
    """Write the files of the backup ``source`` to ``folder``, held against its manifest, which is returned.

    Raises NotABackup for whatever is not the whole backup it says it is, Refused where a tool, a key or room is
    wanting.
    """
    with _decrypted(source, identity) as stream:
        try:
            return _read_tar(stream, folder, tell)
        except (tarfile.TarError, EOFError) as error:
            raise NotABackup(f"{source} is cut off or damaged ({error}): it is no whole backup.") from None
        except OSError as error:
            raise disk_fault(error, folder) from None


def manifest_of(source: Path) -> Manifest:
    """What a backup in the clear says about itself, read without the rest. Raises NotABackup."""
    try:
        with tarfile.open(source, "r:") as tar:
            first = tar.next()
            if first is None or first.name != NAME or not _plain(first) or first.size > LARGEST:
                raise NotABackup(f"{source} is no backup: it does not begin with {NAME}.")
            return read_manifest(_content(tar, first).read())
    except (tarfile.TarError, OSError) as error:
        raise NotABackup(f"{source} cannot be read as a backup: {error}.") from None


def _write_tar(stream: IO[bytes], manifest: Manifest, folder: Path, tell: Tell) -> None:
    with tarfile.open(fileobj=stream, mode="w|", format=tarfile.PAX_FORMAT) as tar:
        about = manifest.to_json()
        tar.addfile(_member(NAME, len(about), manifest), io.BytesIO(about))
        for one in manifest.files:
            tell(f"writing {one.name}, {size_words(one.bytes)}")
            with (folder / one.name).open("rb") as content:
                tar.addfile(_member(one.name, one.bytes, manifest), content)


def _member(name: str, size: int, manifest: Manifest) -> tarfile.TarInfo:
    member = tarfile.TarInfo(name)
    member.size, member.mode, member.mtime = size, 0o600, int(manifest.made_at.timestamp())
    return member


def _read_tar(stream: IO[bytes], folder: Path, tell: Tell) -> Manifest:
    with tarfile.open(fileobj=stream, mode="r|") as tar:
        first = tar.next()
        if first is None or first.name != NAME or not _plain(first) or first.size > LARGEST:
            raise NotABackup(f"This is no backup: it does not begin with {NAME}.")
        manifest = read_manifest(_content(tar, first).read())
        for one in manifest.files:
            member = tar.next()
            if member is None:
                raise NotABackup(f"{one.name} stands in the manifest and is not there: this backup is cut off.")
            if member.name != one.name or not _plain(member):
                raise NotABackup(f"{member.name!r} lies where {one.name} should: nothing of this archive is unpacked.")
            if member.size != one.bytes:
                raise NotABackup(f"{one.name} has {member.size} bytes, the manifest says {one.bytes}: it was changed.")
            tell(f"reading {one.name}, {size_words(one.bytes)}")
            _unpack(_content(tar, member), folder / one.name, one.sha256, one.name)
        if (more := tar.next()) is not None:
            raise NotABackup(f"{more.name!r} lies in the archive and not in its manifest: somebody added to it.")
    return manifest


def _plain(member: tarfile.TarInfo) -> bool:
    return member.type in (tarfile.REGTYPE, tarfile.AREGTYPE) and not member.issparse() and not member.linkname


def _content(tar: tarfile.TarFile, member: tarfile.TarInfo) -> IO[bytes]:
    found = tar.extractfile(member)
    assert found is not None, "a plain member has content"
    return found


def _unpack(content: IO[bytes], path: Path, expected: str, name: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    digest = hashlib.sha256()
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        while chunk := content.read(_CHUNK):
            digest.update(chunk)
            file.write(chunk)
    if digest.hexdigest() != expected:
        raise NotABackup(f"{name} is not what was backed up: its hash differs from the one in the manifest.")


def _give_name(part: Path, dest: Path) -> None:
    """Name the whole file ``dest``; the same act for everybody, so that two backups at once never share a name."""
    try:
        os.link(part, dest)
    except FileExistsError:
        raise Refused(f"{dest} was made by somebody else meanwhile and is not written over.") from None
    except OSError:  # a disk that knows no second name for a file, such as most memory sticks
        refuse_overwriting(dest)
        part.rename(dest)
    to_disk(dest.parent)


def to_disk(path: Path) -> None:
    """Have what is written in the file or folder ``path`` outlive a power cut, as far as the disk knows how."""
    with suppress(OSError):
        opened = os.open(path, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


@contextmanager
def _encrypted(file: IO[bytes], lock: Lock | None) -> Iterator[IO[bytes]]:
    """A stream of which everything lands in ``file``, encrypted where there is a key."""
    if lock is None:
        yield file
        return
    with tempfile.TemporaryDirectory(prefix="leastways-keys-") as home, tempfile.TemporaryFile() as said:
        if Path(lock.tool).name == "age":
            command = [lock.tool, "--recipients-file", str(lock.key)]
        else:
            command = [lock.tool, "--homedir", home, "--batch", "--no-tty", "--quiet", "--trust-model", "always"]
            command += ["--recipient-file", str(lock.key), "--encrypt"]
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=file, stderr=said)  # noqa: S603
        stream = cast(IO[bytes], process.stdin)
        broken = None
        try:
            yield stream
            stream.close()
        except BrokenPipeError as error:  # it ended before it was given everything; it says why below
            broken = error
        except BaseException:
            process.kill()
            raise
        finally:
            with suppress(OSError):
                stream.close()
            process.wait()
        if process.returncode or broken:
            _raise_for_tool(lock.tool, said)


@contextmanager
def _decrypted(source: Path, identity: Path | None) -> Iterator[IO[bytes]]:
    """The archive in ``source`` in the clear. Raises NotABackup for what is neither an archive nor encrypted."""
    try:
        file = source.open("rb")
    except OSError as error:
        raise NotABackup(f"{source} cannot be read: {error.strerror}.") from None
    with file:
        # Not read through the buffer: the tools go on from where the file itself stands.
        begins = os.pread(file.fileno(), 512, 0)
        if begins[257:262] == b"ustar":
            yield file
            return
        command = _decrypting(source, begins, identity)
        with tempfile.TemporaryFile() as said:
            process = subprocess.Popen(command, stdin=file, stdout=subprocess.PIPE, stderr=said)  # noqa: S603
            stream = cast(IO[bytes], process.stdout)
            try:
                yield stream
            finally:
                # Read to its end, the tool says for itself whether the key fitted and the file was whole. A key that
                # does not fit reads as an archive that is none, so what the tool says goes first.
                while stream.read(_CHUNK):
                    pass
                stream.close()
                if process.wait():
                    _raise_for_tool(command[0], said)


def _decrypting(source: Path, begins: bytes, identity: Path | None) -> Sequence[str]:
    if begins.startswith(_AGE_FILE):
        if identity is None:
            raise Refused(f"{source} is encrypted with age: give the file with the secret key, --identity FILE.")
        return (_tool("age"), "--decrypt", "--identity", str(identity))
    if begins[:1] and begins[0] in _PGP_FILE:
        return (_tool("gpg"), "--batch", "--no-tty", "--quiet", "--decrypt")
    raise NotABackup(f"{source} is no backup: it is neither an archive of this program nor encrypted by age or gpg.")


def _raise_for_tool(tool: str, said: IO[bytes]) -> None:
    said.seek(0)
    words = " ".join(said.read(2000).decode(errors="replace").split())
    name = Path(tool).name
    if says_full(words):
        raise OSError(errno.ENOSPC, "disk full")
    raise Refused(f"{name} did not do it: {words or 'it gave no reason'}")


def says_full(words: str) -> bool:
    """Whether a tool that failed says that there was no more room."""
    return any(said in words.lower() for said in ("no space left", "file too large", "disk quota exceeded"))


def size_words(size: int) -> str:
    """A size as people read it."""
    return f"{size / 1e6:.1f} MB" if size >= 100_000 else f"{size} bytes"
