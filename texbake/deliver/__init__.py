"""From maps to files: PNG, names, whole sets, and the record."""

from texbake.deliver.archive import ZIP, zip_key, zip_name, zip_of
from texbake.deliver.files import Writer, Written, deliver_files, replace_record
from texbake.deliver.naming import MAPS, PICTURES, RECORD_NAME, extra_names, file_names, set_folder
from texbake.deliver.owned import FileState, file_state, read_record
from texbake.deliver.place import check_place
from texbake.deliver.png import encode_png, write_png
from texbake.deliver.record import ExtraFile, MapFile, PanelNote, Record, Source
from texbake.deliver.sets import Copy, deliver_set
from texbake.deliver.trouble import machine_error, told
from texbake.deliver.turns import in_turn

__all__ = [
    "MAPS",
    "PICTURES",
    "RECORD_NAME",
    "ZIP",
    "Copy",
    "ExtraFile",
    "FileState",
    "MapFile",
    "PanelNote",
    "Record",
    "Source",
    "Writer",
    "Written",
    "check_place",
    "deliver_files",
    "deliver_set",
    "encode_png",
    "extra_names",
    "file_names",
    "file_state",
    "in_turn",
    "machine_error",
    "read_record",
    "replace_record",
    "set_folder",
    "told",
    "write_png",
    "zip_key",
    "zip_name",
    "zip_of",
]
