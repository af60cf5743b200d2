"""The database keeps the hash of a session's key; whoever is signed in stays so."""

import hashlib

from django.db import migrations


def hash_keys(apps, schema_editor):
    Session = apps.get_model("sessions", "Session")
    for key in list(Session.objects.values_list("session_key", flat=True)):
        kept = hashlib.sha256(key.encode()).hexdigest()[:40]
        Session.objects.filter(session_key=key).update(session_key=kept)


class Migration(migrations.Migration):
    dependencies = [("workshop", "0008_log_follows_names"), ("sessions", "0001_initial")]

    operations = [migrations.RunPython(hash_keys, migrations.RunPython.noop, elidable=True)]
