"""Whether prices include VAT is said of a group of customers, and no longer of everybody."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("workshop", "0014_old_books_tell_prices_as_before")]

    operations = [migrations.RemoveField("business", "prices_include_tax")]
