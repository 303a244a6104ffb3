"""The folder of a line-up, which is there whole or not at all (`own_folder`): an editor who has
changed a list in it keeps it."""

from __future__ import annotations

from overlay.workflow.own_folder import OwnFolder

LINEUP_FOLDER = OwnFolder(noun="line-up", manifest="lineup.json", schema="lineup-folder/1")
